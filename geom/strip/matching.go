package strip

// Matching pairs all of n points (an even number) so that the sum of the
// distances of pairs is least; dist(i, j) is a whole number, 0 or more. It
// returns each point's partner.
//
// It is the primal–dual blossom method of J. Edmonds, 1965, in O(n³) after
// H. N. Gabow, 1976 (both cited from memory), for complete graphs.
func Matching(n int, dist func(i, j int) int64) []int {
	if n == 0 {
		return nil
	}
	most := int64(0)
	for i := range n {
		for j := range i {
			most = max(most, dist(i, j))
		}
	}
	m := newMatcher(n)
	for i := 1; i <= n; i++ {
		for j := 1; j <= n; j++ {
			m.e[i][j] = edge{i, j, 0}
			if i != j {
				// The largest sum of these is the least of the distances, and
				// pairs all: each is over 0 by more than all together lose.
				m.e[i][j].w = 2 * (most*int64(n) + 1 - dist(i-1, j-1) + most*int64(n))
			}
		}
	}
	m.solve()
	out := make([]int, n)
	for i := range out {
		out[i] = m.match[i+1] - 1
	}
	return out
}

type edge struct {
	u, v int
	w    int64
}

// A matcher holds the state of the search. Vertices are 1 to n, blossoms n + 1
// and on.
type matcher struct {
	n, top   int
	e        [][]edge
	label    []int64
	match    []int
	slack    []int
	st       []int // the outermost blossom of each vertex or blossom
	parent   []int
	from     [][]int
	state    []int // −1 free, 0 outer, 1 inner
	seen     []int
	stamp    int
	blossoms [][]int
	queue    []int
}

func newMatcher(n int) *matcher {
	size := 2*n + 2
	ints := func() []int { return make([]int, size) }
	m := &matcher{
		n: n, top: n, e: make([][]edge, size), label: make([]int64, size),
		match: ints(), slack: ints(), st: ints(), parent: ints(), state: ints(), seen: ints(),
		from: make([][]int, size), blossoms: make([][]int, size),
	}
	for i := range m.e {
		m.e[i] = make([]edge, size)
		m.from[i] = make([]int, n+1)
		for j := range m.e[i] {
			m.e[i][j] = edge{i, j, 0}
		}
	}
	return m
}

// delta is how far an edge is from being tight.
func (m *matcher) delta(e edge) int64 {
	return m.label[e.u] + m.label[e.v] - m.e[e.u][e.v].w*2
}

func (m *matcher) updateSlack(u, x int) {
	if m.slack[x] == 0 || m.delta(m.e[u][x]) < m.delta(m.e[m.slack[x]][x]) {
		m.slack[x] = u
	}
}

func (m *matcher) setSlack(x int) {
	m.slack[x] = 0
	for u := 1; u <= m.n; u++ {
		if m.e[u][x].w > 0 && m.st[u] != x && m.state[m.st[u]] == 0 {
			m.updateSlack(u, x)
		}
	}
}

func (m *matcher) push(x int) {
	if x <= m.n {
		m.queue = append(m.queue, x)
		return
	}
	for _, y := range m.blossoms[x] {
		m.push(y)
	}
}

func (m *matcher) setOuter(x, b int) {
	m.st[x] = b
	if x > m.n {
		for _, y := range m.blossoms[x] {
			m.setOuter(y, b)
		}
	}
}

// turn makes the way round a blossom from its base to member x even, and
// returns x's place.
func (m *matcher) turn(b, x int) int {
	at := 0
	for i, y := range m.blossoms[b] {
		if y == x {
			at = i
		}
	}
	if at%2 == 1 {
		l := m.blossoms[b]
		for i, j := 1, len(l)-1; i < j; i, j = i+1, j-1 {
			l[i], l[j] = l[j], l[i]
		}
		return len(l) - at
	}
	return at
}

func (m *matcher) setMatch(u, v int) {
	m.match[u] = m.e[u][v].v
	if u <= m.n {
		return
	}
	e := m.e[u][v]
	x := m.from[u][e.u]
	at := m.turn(u, x)
	for i := range at {
		m.setMatch(m.blossoms[u][i], m.blossoms[u][i^1])
	}
	m.setMatch(x, v)
	l := m.blossoms[u]
	m.blossoms[u] = append(append([]int{}, l[at:]...), l[:at]...)
}

func (m *matcher) augment(u, v int) {
	for {
		next := m.st[m.match[u]]
		m.setMatch(u, v)
		if next == 0 {
			return
		}
		m.setMatch(next, m.st[m.parent[next]])
		u, v = m.st[m.parent[next]], next
	}
}

func (m *matcher) ancestor(u, v int) int {
	m.stamp++
	for u != 0 || v != 0 {
		if u != 0 {
			if m.seen[u] == m.stamp {
				return u
			}
			m.seen[u] = m.stamp
			u = m.st[m.match[u]]
			if u != 0 {
				u = m.st[m.parent[u]]
			}
		}
		u, v = v, u
	}
	return 0
}

func (m *matcher) addBlossom(u, lca, v int) {
	b := m.n + 1
	for b <= m.top && m.st[b] != 0 {
		b++
	}
	if b > m.top {
		m.top++
	}
	m.label[b], m.state[b] = 0, 0
	m.match[b] = m.match[lca]
	l := []int{lca}
	for x := u; x != lca; {
		l = append(l, x)
		y := m.st[m.match[x]]
		l = append(l, y)
		m.push(y)
		x = m.st[m.parent[y]]
	}
	for i, j := 1, len(l)-1; i < j; i, j = i+1, j-1 {
		l[i], l[j] = l[j], l[i]
	}
	for x := v; x != lca; {
		l = append(l, x)
		y := m.st[m.match[x]]
		l = append(l, y)
		m.push(y)
		x = m.st[m.parent[y]]
	}
	m.blossoms[b] = l
	m.setOuter(b, b)
	for x := 1; x <= m.top; x++ {
		m.e[b][x].w, m.e[x][b].w = 0, 0
	}
	for x := 1; x <= m.n; x++ {
		m.from[b][x] = 0
	}
	for _, y := range l {
		for x := 1; x <= m.top; x++ {
			if m.e[b][x].w == 0 || m.delta(m.e[y][x]) < m.delta(m.e[b][x]) {
				m.e[b][x], m.e[x][b] = m.e[y][x], m.e[x][y]
			}
		}
		for x := 1; x <= m.n; x++ {
			if m.from[y][x] != 0 {
				m.from[b][x] = y
			}
		}
	}
	m.setSlack(b)
}

func (m *matcher) expand(b int) {
	for _, y := range m.blossoms[b] {
		m.setOuter(y, y)
	}
	x := m.from[b][m.e[b][m.parent[b]].u]
	at := m.turn(b, x)
	l := m.blossoms[b]
	for i := 0; i < at; i += 2 {
		y, z := l[i], l[i+1]
		m.parent[y] = m.e[z][y].u
		m.state[y], m.state[z] = 1, 0
		m.slack[y] = 0
		m.setSlack(z)
		m.push(z)
	}
	m.state[x], m.parent[x] = 1, m.parent[b]
	for i := at + 1; i < len(l); i++ {
		m.state[l[i]] = -1
		m.setSlack(l[i])
	}
	m.st[b] = 0
}

// found takes a tight edge; it reports whether that ended in a better matching.
func (m *matcher) found(e edge) bool {
	u, v := m.st[e.u], m.st[e.v]
	switch m.state[v] {
	case -1:
		m.parent[v], m.state[v] = e.u, 1
		next := m.st[m.match[v]]
		m.slack[v], m.slack[next] = 0, 0
		m.state[next] = 0
		m.push(next)
	case 0:
		lca := m.ancestor(u, v)
		if lca == 0 {
			m.augment(u, v)
			m.augment(v, u)
			return true
		}
		m.addBlossom(u, lca, v)
	}
	return false
}

// phase looks for one augmenting way; it reports whether there was one.
func (m *matcher) phase() bool {
	for i := range m.top + 1 {
		m.state[i], m.slack[i] = -1, 0
	}
	m.queue = nil
	for x := 1; x <= m.top; x++ {
		if m.st[x] == x && m.match[x] == 0 {
			m.parent[x], m.state[x] = 0, 0
			m.push(x)
		}
	}
	if len(m.queue) == 0 {
		return false
	}
	for {
		for len(m.queue) > 0 {
			u := m.queue[0]
			m.queue = m.queue[1:]
			if m.state[m.st[u]] == 1 {
				continue
			}
			for v := 1; v <= m.n; v++ {
				if m.e[u][v].w > 0 && m.st[u] != m.st[v] {
					if m.delta(m.e[u][v]) == 0 {
						if m.found(m.e[u][v]) {
							return true
						}
					} else {
						m.updateSlack(u, m.st[v])
					}
				}
			}
		}
		if !m.relabel() {
			return false
		}
		for x := 1; x <= m.top; x++ {
			if m.st[x] == x && m.slack[x] != 0 && m.st[m.slack[x]] != x && m.delta(m.e[m.slack[x]][x]) == 0 {
				if m.found(m.e[m.slack[x]][x]) {
					return true
				}
			}
		}
		for b := m.n + 1; b <= m.top; b++ {
			if m.st[b] == b && m.state[b] == 1 && m.label[b] == 0 {
				m.expand(b)
			}
		}
	}
}

// relabel changes the labels as far as they may; it reports false when an outer
// vertex's label is used up.
func (m *matcher) relabel() bool {
	d := int64(1) << 62
	for b := m.n + 1; b <= m.top; b++ {
		if m.st[b] == b && m.state[b] == 1 {
			d = min(d, m.label[b]/2)
		}
	}
	for x := 1; x <= m.top; x++ {
		if m.st[x] == x && m.slack[x] != 0 {
			switch m.state[x] {
			case -1:
				d = min(d, m.delta(m.e[m.slack[x]][x]))
			case 0:
				d = min(d, m.delta(m.e[m.slack[x]][x])/2)
			}
		}
	}
	for u := 1; u <= m.n; u++ {
		switch m.state[m.st[u]] {
		case 0:
			if m.label[u] <= d {
				return false
			}
			m.label[u] -= d
		case 1:
			m.label[u] += d
		}
	}
	for b := m.n + 1; b <= m.top; b++ {
		if m.st[b] == b {
			switch m.state[b] {
			case 0:
				m.label[b] += 2 * d
			case 1:
				m.label[b] -= 2 * d
			}
		}
	}
	m.queue = nil
	return true
}

func (m *matcher) solve() {
	for u := 0; u <= m.n; u++ {
		m.st[u] = u
	}
	heaviest := int64(0)
	for u := 1; u <= m.n; u++ {
		for v := 1; v <= m.n; v++ {
			if u == v {
				m.from[u][v] = u
			}
			heaviest = max(heaviest, m.e[u][v].w)
		}
	}
	for u := 1; u <= m.n; u++ {
		m.label[u] = heaviest
	}
	for m.phase() {
	}
}
