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
