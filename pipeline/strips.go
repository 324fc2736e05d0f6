package pipeline

import (
	"fmt"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/parts"
	"inkchannel/geom/strip"
	"inkchannel/pipeline/power"
)

// routeStrips covers the lines with strip, fed from where the wires come in.
func (r *Result) routeStrips(step *Step) (err error) {
	set := strip.Settings{Turn: r.Settings.Turn, Cut: r.Settings.Strip.Cut, Half: r.Settings.Channel.Strip / 2}
	if r.Strips, err = strip.Route(r.Line, r.corners(), r.feedPoint(), set); err != nil {
		return err
	}
	p := r.Strips
	covered, bare, jumpers := 0.0, 0.0, 0.0
	for _, q := range p.Pieces {
		covered, bare = covered+q.Strip, bare+q.Path-q.Strip
	}
	for _, c := range p.Chains {
		jumpers += jumperLength(c.Jumpers)
	}
	step.Found = fmt.Sprintf("%d pieces of strip, %.0f mm in all, where at least %d are needed; %d chains, %.0f mm of jumpers; %.0f mm stay bare beside cut marks", len(p.Pieces), covered, p.Bound, len(p.Chains), jumpers, bare)
	for i, q := range p.Pieces {
		if q.Strip == 0 {
			step.Notes = append(step.Notes, fmt.Sprintf("piece %d would be %.0f mm long, shorter than one cut of %g mm: that stretch stays dark", i+1, q.Path, set.Cut))
		}
	}
	return nil
}

// corners are the places where the strip is cut and joined, on the line as it
// is now.
func (r *Result) corners() []strip.Corner {
	var out []strip.Corner
	for _, b := range r.Bends {
		if b.Rounded {
			continue
		}
		if s, d := geom.NewRuler(r.Line.Curves[b.Curve]).Nearest(b.At); d < 0.5 {
			out = append(out, strip.Corner{Curve: b.Curve, Along: s})
		}
	}
	return out
}

// feedPoint is where the wires come in, in the sheet's frame.
func (r *Result) feedPoint() geom.Point {
	p := parts.Entry(r.Line.Upended(r.Size.Y), r.Settings.Parts.Hold)
	return geom.Pt(p.X, r.Size.Y-p.Y)
}

// wirePlan is what the strip plan hides, in the sign's frame.
func (r *Result) wirePlan() *parts.WirePlan {
	up := func(p geom.Point) geom.Point { return geom.Pt(p.X, r.Size.Y-p.Y) }
	plan := &parts.WirePlan{}
	for _, c := range r.Strips.Chains {
		plan.Feeds = append(plan.Feeds, up(c.Feed))
		for _, j := range c.Jumpers {
			var l geom.Polyline
			for _, p := range j.Path {
				l = append(l, up(p))
			}
			plan.Jumpers = append(plan.Jumpers, l)
		}
	}
	return plan
}

// sizePower sizes what feeds the chains.
func (r *Result) sizePower(step *Step) (err error) {
	r.Loads = nil
	ch := r.walls
	outline := 2 * (ch.Slot() + 2*ch.Wall + ch.Height())
	hidden := lengthOf(r.Sign.Wires) // a chain that the bore does not reach may need all of it
	for _, c := range r.Strips.Chains {
		l := power.Load{Strip: c.Strip / 1000, Channel: outline}
		if b := r.Sign.Bore; b != nil {
			l.Hidden = b.From.Dist(b.Top) / 1000
		}
		if c.Feed.Dist(r.feedPoint()) > 20 {
			l.Hidden += hidden / 1000
		}
		l.Jumpers = jumperLength(c.Jumpers) / 1000
		r.Loads = append(r.Loads, l)
	}
	if r.Feeding, err = power.Feed(r.Settings.Strip, r.Loads, r.Settings.Power); err != nil {
		return err
	}
	f := r.Feeding
	step.Found = fmt.Sprintf("%.1f W at %g V, %.2f A: a supply of at least %g W", f.Watts, r.Settings.Strip.Volts, f.Amps, f.Supply)
	for i, c := range f.Circuits {
		step.Notes = append(step.Notes, fmt.Sprintf("chain %d%s: %.2f A, fuse %g A, wire %s (%s), %.2f V lost on wires and %.2f V on the strip, channel up to about %.0f C", i+1, r.inColour(r.Strips.Chains[i].Ink), c.Amps, c.Fuse, c.Wire.Name, c.Gauge.Name, c.WireDrop, c.StripDrop, c.Warm))
	}
	step.Notes = append(step.Notes, f.Notes...)
	return nil
}

// inColour is " (red)" and the like, nothing if the drawing has one colour.
func (r *Result) inColour(ink int) string {
	if len(r.Pens.All) < 2 {
		return ""
	}
	return " (" + r.penName(ink) + ")"
}

// Polarity and numbers on drawings need the way of a piece: its points from
// where it is fed to its far end.
func (r *Result) wayOf(p strip.Piece) geom.Polyline {
	var out geom.Polyline
	for _, s := range p.Spans {
		k := geom.NewRuler(r.Line.Curves[s.Curve])
		n := max(int(s.Length()/0.5), 1)
		for i := 0; i <= n; i++ {
			q := k.At(s.From + (s.To-s.From)*float64(i)/float64(n))
			if len(out) == 0 || out[len(out)-1].Dist(q) > 1e-9 {
				out = append(out, q)
			}
		}
	}
	return out
}

// stripOf is the part of a piece's way that its strip covers.
func (r *Result) stripOf(p strip.Piece) geom.Polyline {
	const step = 0.5
	way := r.wayOf(p)
	s := make([]float64, len(way))
	for i := 1; i < len(way); i++ {
		s[i] = s[i-1] + way[i-1].Dist(way[i])
	}
	n := int(p.Strip / step)
	out := make(geom.Polyline, 0, n+1)
	for i := 0; i <= n && p.Strip > 0; i++ {
		out = append(out, way.AtDistance(s, p.Gaps[0]+p.Strip*float64(i)/float64(n), false))
	}
	return out
}

// A cutMark is a place across a piece: a cut mark or an end of the strip.
type cutMark struct {
	at     geom.Point
	across geom.Point // unit vector
}

// cutMarks are the marks along a piece's strip, from its start to its end.
func (r *Result) cutMarks(p strip.Piece) []cutMark {
	way := r.wayOf(p)
	var out []cutMark
	n := int(math.Round(p.Strip / r.Settings.Strip.Cut))
	for i := 0; i <= n && p.Strip > 0; i++ {
		s := p.Gaps[0] + float64(i)*r.Settings.Strip.Cut
		a, b := way.At(max(s-0.5, 0)), way.At(s+0.5)
		out = append(out, cutMark{way.At(s), b.Sub(a).Unit().Perp()})
	}
	return out
}
