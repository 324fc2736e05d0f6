package geom

// A Forest tells which of n things, numbered from 0, hang together (disjoint
// sets: B. A. Galler and M. J. Fischer, 1964).
type Forest []int

// NewForest returns n things that are all apart.
func NewForest(n int) Forest {
	f := make(Forest, n)
	for i := range f {
		f[i] = i
	}
	return f
}

// Root returns the thing that stands for all that i hangs together with.
func (f Forest) Root(i int) int {
	for f[i] != i {
		f[i] = f[f[i]]
		i = f[i]
	}
	return i
}

// Join ties a and b together. It reports whether they were apart.
func (f Forest) Join(a, b int) bool {
	a, b = f.Root(a), f.Root(b)
	f[a] = b
	return a != b
}

// Numbers returns the number of each one's set, counted by their first members, and
// how many sets there are.
func (f Forest) Numbers() (of []int, n int) {
	of = make([]int, len(f))
	number := make([]int, len(f)) // of each root, plus one
	for i := range f {
		r := f.Root(i)
		if number[r] == 0 {
			n++
			number[r] = n
		}
		of[i] = number[r] - 1
	}
	return of, n
}
