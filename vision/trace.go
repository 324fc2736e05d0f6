package vision

import (
	"bytes"
	"errors"
	"math"

	"inkchannel/geom"
)

// TraceSettings tune Trace.
type TraceSettings struct {
	Spur     float64 // pen widths; a dead end that sticks out of a line less is dropped
	Shortest float64 // mm; separate strokes shorter than this are dropped; 0 follows the pen
	// What is said by hand, as places in mm of the sheet. Each of Drop lies on
	// a line that is no line of the drawing; each two of Join at free ends to
	// join; each two of Pass on lines that run on into each other at a junction.
	Drop, Join, Pass []geom.Point
}

// DefaultTrace returns the settings that suit pens of 0.5 to 6 mm.
func DefaultTrace() TraceSettings { return TraceSettings{Spur: 0.5} }

// inPx returns places given in mm as px.
func inPx(places []geom.Point, pxPerMm float64) []geom.Point {
	out := make([]geom.Point, len(places))
	for i, p := range places {
		out[i] = p.Mul(pxPerMm)
	}
	return out
}

// A Tracing is the drawing as strokes, in px of the sheet's picture.
type Tracing struct {
	geom.Network
	PenWidth float64 // px, median over the drawing
	Spurs    int     // dead ends dropped
	Short    int     // separate strokes dropped for being too short,
	Dropped  float64 // px, their length in all;
	Shortest float64 // mm that a separate stroke had to be long
	Doubts   []Doubt // where the drawing may be meant otherwise
}

// A Doubt is a place where the lines were read one way and could be read
// another. At is px of the sheet's picture.
type Doubt struct {
	At    geom.Point
	Stake float64 // px of line that would be another
	Why   string
	// Weak doubts say little where there are many: the ink is uneven then.
	Weak bool
}

// A separate mark shorter than so many pen widths is a slip or a speck, within
// these mm. Common practice, no source.
const (
	markPens  = 3
	markLeast = 1.5
	markMost  = 3
)

// noLine is the length, px, under which a separate line is a point.
const noLine = 1

// noiseSpur is the length, px, up to which a dead end may be the noise on a
// thin line's edge.
const noiseSpur = 4.5

// Trace follows the skeleton's lines and turns them into pen strokes: spurs
// dropped, junctions made one point each, lines joined straight through where
// they cross, all centred on the ink. pxPerMm is the scale.
//
// It returns an error when there is nothing to trace, and for a place by hand
// that lies at nothing it could mean.
func Trace(ink *Ink, skel *Bitmap, pxPerMm float64, s TraceSettings) (Tracing, error) {
	return TraceLarger(ink, skel, pxPerMm, 1, s)
}

// TraceLarger is Trace for lines that are to be so many times as large as they were drawn: pxPerMm is
// the scale of that, and places by hand are in mm of the sheet as it was drawn.
func TraceLarger(ink *Ink, skel *Bitmap, pxPerMm, times float64, s TraceSettings) (Tracing, error) {
	g := skeletonGraph(skel, ink.Mask)
	g.level = ink.Level
	pen := g.penRadius()
	least := s.Spur * 2 * pen
	if s.Spur > 0 {
		least = max(least, noiseSpur)
	}
	g.mm = 1 / pxPerMm
	t := Tracing{Spurs: g.prune(least)}
	g.contract()
	t.Spurs += g.prune(least)
	paper := pxPerMm * times
	hand := editor{g, paper}
	edges, err := hand.drop(inPx(s.Drop, paper), inkEdgePoints(ink))
	if err != nil {
		return t, err
	}
	if err := hand.join(inPx(s.Join, paper)); err != nil {
		return t, err
	}
	t.Shortest = s.Shortest
	if t.Shortest == 0 {
		t.Shortest = min(max(markPens*2*pen/pxPerMm, markLeast), markMost)
	}
	t.Short, t.Dropped = g.dropShort(t.Shortest * pxPerMm)
	g.measure()
	said, err := hand.passes(inPx(s.Pass, paper))
	if err != nil {
		return t, err
	}
	g.doubtShared()
	through, tees := g.rebuild(said)
	g.doubtEnds(least)
	g.doubtGaps()
	g.doubtWidths()
	g.doubtPale()
	t.Doubts = g.doubts
	g.centre(edges, through, tees)
	g.dropShort(noLine) // what shrank to a point is no line
	t.Network = g.strokes(through)
	t.PenWidth = 2 * g.penRadiusNow()
	if len(t.Strokes) == 0 {
		return t, errors.New(
			"no pen line is long enough to trace; draw with a darker or broader pen, or lower the shortest stroke " +
				"length",
		)
	}
	return t, nil
}

// inkRadius is the distance, px, from the centre of ink pixel (x, y) to that of
// the nearest pixel without ink; beyond the border there is none. It looks along
// rows, nearest first, until no row can hold a nearer one.
func inkRadius(b *Bitmap, x, y int) float64 {
	best := b.W*b.W + b.H*b.H // squared
	for dy := 0; dy*dy < best; dy++ {
		for _, v := range [2]int{y - dy, y + dy} {
			if v < 0 || v >= b.H {
				continue
			}
			row := b.Pix[v*b.W : (v+1)*b.W]
			reach := int(math.Sqrt(float64(best-dy*dy))) + 1
			if i := bytes.IndexByte(row[x:min(x+reach+1, b.W)], 0); i >= 0 {
				best = min(best, i*i+dy*dy)
			}
			from := max(x-reach, 0)
			if i := bytes.LastIndexByte(row[from:x+1], 0); i >= 0 {
				i = x - from - i
				best = min(best, i*i+dy*dy)
			}
		}
		if y-dy < 0 && y+dy >= b.H { // no ink-free pixel at all
			break
		}
	}
	return math.Sqrt(float64(best))
}

// dropShort drops lines with two free ends, and closed ones, shorter than
// least, and returns how many and their length in all.
func (g *graph) dropShort(least float64) (n int, length float64) {
	at := g.branches()
	for i := range g.links {
		l := &g.links[i]
		alone := len(at[l.a]) == 1 && len(at[l.b]) == 1 || l.a == l.b && len(at[l.a]) == 2
		// The ink reaches a pen's radius beyond each end.
		if !l.dead && alone && l.pts.Length() < least {
			l.dead = true
			n, length = n+1, length+l.pts.Length()
		}
	}
	return n, length
}

// penRadiusNow is the mean pen radius over the links, by length.
func (g *graph) penRadiusNow() float64 {
	sum, length := 0.0, 0.0
	for _, l := range g.links {
		if !l.dead {
			n := l.pts.Length()
			sum += l.r * n
			length += n
		}
	}
	if length == 0 {
		return 0
	}
	return sum / length
}

// strokes chains links that run straight on into one another.
func (g *graph) strokes(through pairing) geom.Network {
	var net geom.Network
	at := g.branches()
	id := make([]int, len(g.nodes))
	for i := range g.nodes {
		id[i] = -1
		if len(at[i]) > 0 {
			id[i] = len(net.Knots)
			net.Knots = append(net.Knots, geom.Knot{At: g.nodes[i].at, Degree: len(at[i])})
		}
	}
	done := make([]bool, len(g.links))
	for i, l := range g.links {
		if l.dead || done[i] {
			continue
		}
		net.Strokes = append(net.Strokes, g.stroke(branch{i, false}, through, done, id))
	}
	return net
}

// stroke walks back from b to where its pen line starts, then along it.
func (g *graph) stroke(b branch, through pairing, done []bool, id []int) geom.Stroke {
	start, closed := b, false
	for {
		prev, ok := through[start]
		if !ok {
			break
		}
		start = branch{prev.link, !prev.end}
		if start == b {
			closed = true
			break
		}
	}
	s := geom.Stroke{Closed: closed}
	width, length := 0.0, 0.0
	for cur := start; ; {
		done[cur.link] = true
		pts, _ := g.away(cur)
		from := g.links[cur.link].a
		if cur.end {
			from = g.links[cur.link].b
		}
		s.Runs = append(s.Runs, pts)
		s.Knots = append(s.Knots, id[from])
		n := pts.Length()
		width += 2 * g.links[cur.link].r * n
		length += n
		to := g.far(cur)
		next, ok := through[branch{cur.link, !cur.end}]
		if !ok || next == start {
			s.Knots = append(s.Knots, id[to])
			break
		}
		cur = next
	}
	if length > 0 {
		s.Width = width / length
	}
	return s
}
