package geom

// Meet returns how far along r from p, and along s from q, the lines through them
// meet, and r × s: 0 if they are parallel, when u and v say nothing.
func Meet(p, r, q, s Point) (u, v, den float64) {
	den = r.Cross(s)
	w := q.Sub(p)
	return w.Cross(s) / den, w.Cross(r) / den, den
}

// Cross reports whether segments a–b and c–d cross, their ends included, and how far
// along each, 0 to 1. Parallel segments do not.
func Cross(a, b, c, d Point) (u, v float64, ok bool) {
	u, v, den := Meet(a, b.Sub(a), c, d.Sub(c))
	return u, v, den != 0 && u >= 0 && u <= 1 && v >= 0 && v <= 1
}
