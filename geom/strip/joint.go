package strip

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// JointCost is what a joint more is worth, mm of dark: less than the shortest stretch that matters.
const JointCost = 2.5

// jointSlack is how much shorter, mm, than what does not matter a dark stretch is made.
const jointSlack = 0.12

// A sharing is how a piece is cut in parts, and how what whole cuts leave of it is shared out.
type sharing struct {
	joints int
	fed    bool       // wires come up at the first joint, not at the piece's start
	gaps   [2]float64 // at start and end, mm
	joint  float64    // at a joint
	first  float64    // at the first joint
	strip  float64    // in all parts
	dark   float64    // mm that stay so in stretches that matter
}

// cost is what stays dark, mm, and JointCost for each joint.
func (h sharing) cost() float64 { return h.dark + JointCost*float64(h.joints) }

// shared is how a piece is best cut: as a whole, or more often where then less stays dark.
func (p Piece) shared(set Settings) sharing {
	best := sharing{gaps: p.Gaps, strip: p.Strip, dark: p.unlit(set.Dark)}
	for k := 1; k <= set.Joints && best.dark > 0 && best.cost() > JointCost*float64(k); k++ {
		for _, fed := range []bool{false, true} {
			if fed && !p.fedAtJoint(set) {
				continue
			}
			if h := p.sharedBy(k, fed, set); h.strip > (float64(k)+0.5)*set.Cut && h.cost() < best.cost()-1e-9 {
				best = h
			}
		}
	}
	return best
}

// fedAtJoint tells whether wires may come up at a joint of a piece in place of its start: where
// it has wires, they take room there, and nobody asked for them there.
func (p Piece) fedAtJoint(set Settings) bool {
	if set.Data || p.After >= 0 || p.open(0) || p.Closed && p.keep == [2]float64{} {
		return false
	}
	return !slices.ContainsFunc(set.Starts, func(at geom.Point) bool { return at.Dist(p.Start.At) < startMoved })
}

// startMoved is how far from a place where wires are asked for, mm, a piece may start there: places are
// off the lines, and ends are moved.
const startMoved = 12

// sharedBy shares out what whole cuts leave of a piece between its ends and its joints, each up to
// what does not matter, and the rest at its start.
func (p Piece) sharedBy(joints int, fed bool, set Settings) sharing {
	h := sharing{joints: joints, fed: fed, gaps: p.gapsAtLeast(set)}
	places := make([]float64, joints, joints+len(h.gaps)) // of joints, then of ends: what is bare there in any case
	if fed {
		h.gaps[0], places[0] = p.keep[0], set.Hole
	}
	room := p.Path - h.gaps[0] - h.gaps[1] - places[0]
	h.strip = math.Floor(max(room+1e-6, 0)/set.Cut) * set.Cut
	left := room - h.strip
	if p.round() {
		places = append(places, h.gaps[0]+h.gaps[1])
	} else {
		places = append(places, h.gaps[0]-p.lit[0], h.gaps[1]-p.lit[1])
	}
	bare := places[joints:]
	level := min(filled(places, left), set.Dark-jointSlack)
	for _, b := range places {
		left -= max(level-b, 0)
	}
	h.first, h.joint = max(level, places[0]), level
	if p.round() {
		h.gaps[0], h.gaps[1] = h.gaps[0]+max(level-bare[0], 0)/2, h.gaps[1]+max(level-bare[0], 0)/2
	} else {
		h.gaps[0], h.gaps[1] = h.gaps[0]+max(level-bare[0], 0), h.gaps[1]+max(level-bare[1], 0)
	}
	h.gaps[0] += left
	p.Gaps, p.Strip = h.gaps, h.strip
	if h.dark = p.unlit(set.Dark); h.first > set.Dark {
		h.dark += h.first
	}
	return h
}

// round tells whether a piece's ends leave one place dark together.
func (p Piece) round() bool {
	return p.Closed || p.Start.Node == p.End.Node && p.lit[0] <= 0 && p.lit[1] <= 0
}

// filled is the level to which an amount fills places that are as high as base, the lowest first.
func filled(base []float64, amount float64) float64 {
	level := math.Inf(1)
	for {
		sum, n := amount, 0
		for _, b := range base {
			if b < level {
				sum, n = sum+b, n+1
			}
		}
		if n == 0 || sum/float64(n) > level-1e-9 {
			return level
		}
		level = sum / float64(n)
	}
}

// split cuts a piece as it is shared out: its parts have its number and the next ones, and each is
// soldered on to the one before. node is the first that is free for its joints.
func (p *Plan) split(i int, h sharing, node int, rulers []*geom.Ruler, set Settings) {
	whole := p.Pieces[i]
	cuts, done := int(math.Round(h.strip/set.Cut)), 0
	parts := make([]Piece, h.joints+1)
	from := 0.0 // of the part along the whole
	for k := range parts {
		part := &parts[k]
		*part = whole
		part.Gaps = h.gaps
		if k > 0 {
			part.Start, part.After = parts[k-1].End, i+k-1
			part.Gaps[0], part.keep[0], part.lit[0], part.well[0] = h.joint/2, 0, 0, set.Hole/2
			if k == 1 && h.fed {
				part.Gaps[0] = 0
			} else if k == 1 {
				part.Gaps[0] = h.first / 2
			}
		}
		n, to := cuts-done, whole.Path
		if k < h.joints {
			gap := h.joint / 2
			if k == 0 && h.fed {
				gap = h.first
			} else if k == 0 {
				gap = h.first / 2
			}
			n = whole.cutsTo(from+part.Gaps[0], h.joints+1-k, cuts-done, set)
			to = from + part.Gaps[0] + float64(n)*set.Cut + gap
			part.End, part.out = Place{Node: node + k, At: at(whole, rulers, to)}, false
			part.Gaps[1], part.keep[1], part.lit[1], part.well[1] = gap, 0, 0, set.Hole/2
		}
		part.Spans, part.Path, part.Closed = spansBetween(whole.Spans, from, to), to-from, false
		part.Strip = float64(n) * set.Cut
		from, done = to, done+n
	}
	p.makePlace(i, h.joints)
	parts[0].After = p.Pieces[i].After
	if h.fed {
		parts[1].Start = parts[0].End
		parts[0].turn()
		parts[0].Gaps[0], parts[0].Gaps[1] = parts[0].Gaps[1], parts[0].Gaps[0]
	}
	copy(p.Pieces[i:], parts)
	for k := range p.Pieces { // what was soldered on where the whole ended
		q := &p.Pieces[k]
		if q.After == i && (k < i || k > i+h.joints) && q.Start.Node == whole.End.Node && (q.Start.Node != whole.Start.Node || set.Data) {
			q.After = i + h.joints
		}
	}
}

// makePlace gives the pieces after one the next numbers but so many, and names those for its parts
// wherever the piece is named.
func (p *Plan) makePlace(i, n int) {
	for k := range p.Pieces {
		if p.Pieces[k].After > i {
			p.Pieces[k].After += n
		}
	}
	p.Pieces = slices.Insert(p.Pieces, i+1, make([]Piece, n)...)
	named := func(was []int) (now []int) {
		for _, k := range was {
			if k > i {
				k += n
			}
			now = append(now, k)
			for j := range n {
				if k == i {
					now = append(now, i+1+j)
				}
			}
		}
		return now
	}
	for c := range p.Chains {
		p.Chains[c].Pieces = named(p.Chains[c].Pieces)
	}
	for c := range p.Circuits {
		p.Circuits[c].Pieces = named(p.Circuits[c].Pieces)
	}
}

// cutsTo is how many cuts of strip one of so many parts gets of those that are left, if it begins
// so far along the piece: about as many as each other, its end as far as may be from where other
// lines meet the piece.
func (p Piece) cutsTo(from float64, parts, cuts int, set Settings) int {
	even := max(cuts/parts, 1)
	best, far := even, -1.0
	for _, n := range []int{even, even + 1, even - 1} {
		if n < 1 || cuts-n < parts-1 {
			continue
		}
		s := from + float64(n)*set.Cut
		d, along := jointClear, 0.0
		for _, q := range p.Spans[:len(p.Spans)-1] {
			along += q.Length()
			d = min(d, math.Abs(along-s))
		}
		if d > far {
			best, far = n, d
		}
	}
	return best
}

// jointClear is how far, mm, a joint is from where other lines meet its piece, if it may be.
const jointClear = 8.0

// spansBetween are the parts of spans from one place along them to another, mm.
func spansBetween(spans []Span, from, to float64) (out []Span) {
	for _, s := range spans {
		l := s.Length()
		a, b := min(max(from, 0), l), min(max(to, 0), l)
		if from, to = from-l, to-l; b-a < 1e-9 {
			continue
		}
		if s.To < s.From {
			a, b = -a, -b
		}
		out = append(out, Span{s.Curve, s.From + a, s.From + b})
	}
	return out
}
