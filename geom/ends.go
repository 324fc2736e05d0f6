package geom

// endSpan is how much of a line, mm, tells how it bends at its end: a pen's last mm hook.
const endSpan = 8

// EndsMoved returns an open curve whose ends are moved by so many mm along it: over 0 it goes
// on as it bends there, under 0 it stops before. Its stops stay on their knots, but for those at
// its ends, which move with them; nothing is done that would take it beyond another stop.
func (c Curve) EndsMoved(start, end float64) Curve {
	return c.endMoved(end).Reversed().endMoved(start).Reversed()
}

// endMoved moves the curve's end.
func (c Curve) endMoved(by float64) Curve {
	r := NewRuler(c)
	l := r.Length()
	out := c
	out.Stops = append([]Stop(nil), c.Stops...)
	switch {
	case by > 0:
		from, to := r.Heading(max(l-endSpan, 0)), r.Heading(l)
		turn := from.Angle(to)
		if from.Cross(to) < 0 {
			turn = -turn
		}
		out.Pieces = append(append([]Cubic(nil), c.Pieces...), goingOn(r.At(l), to, Radians(turn)/min(endSpan, l), by)...)
	case by < 0:
		last := 0.0
		if n := len(c.Stops); n > 1 {
			last = r.Piece(c.Stops[n-2].Piece)
		}
		if l+by <= last {
			return c
		}
		out.Pieces = r.Sub(0, l+by)
	}
	if n := len(out.Stops); n > 0 {
		out.Stops[n-1].Piece = len(out.Pieces)
	}
	return out
}

// goingOn is by mm more of a line that heads somewhere and turns by so many radians each mm.
func goingOn(at, heading Point, bend, by float64) []Cubic {
	if angle := Degrees(bend * by); angle > 0.1 || angle < -0.1 {
		return ArcCubics(at.Add(heading.Perp().Mul(1/bend)), at, angle)
	}
	return []Cubic{StraightCubic(at, at.Add(heading.Mul(by)))}
}

// Reversed is the curve run the other way.
func (c Curve) Reversed() Curve {
	out := c
	n := len(c.Pieces)
	out.Pieces, out.Stops = make([]Cubic, n), make([]Stop, len(c.Stops))
	for i, p := range c.Pieces {
		out.Pieces[n-1-i] = p.Reversed()
	}
	for i, s := range c.Stops {
		out.Stops[len(c.Stops)-1-i] = Stop{s.Knot, n - s.Piece}
	}
	return out
}
