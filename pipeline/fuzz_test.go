package pipeline

import (
	"strings"
	"testing"
)

// Whatever the text: settings within their bounds that come back the same, or an
// error in one line.
func FuzzReadSettings(f *testing.F) {
	f.Add(WriteSettings(Default()))
	f.Add([]byte("channel:\n  wall: 1.2 # mm\n"))
	f.Add([]byte("dots:\n  dots: \"1,2 3,4\"\nstrokes:\n  drop-lines: \"1,1\"\n"))
	f.Add([]byte("a: &x [*x]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s := Default()
		if err := ReadSettings(&s, data); err != nil {
			if strings.ContainsRune(err.Error(), '\n') {
				t.Fatalf("an error in several lines: %q", err)
			}
			return
		}
		for _, k := range Knobs() {
			again := Default()
			if err := k.Set(&again, k.Get(&s)); err != nil {
				t.Fatalf("its own value is refused: %v", err)
			}
		}
		back := Default()
		if err := ReadSettings(&back, WriteSettings(s)); err != nil {
			t.Fatalf("what it writes is refused: %v", err)
		}
		for _, k := range Knobs() {
			if k.Get(&back) != k.Get(&s) {
				t.Fatalf("%s was %q, comes back as %q", k.Flag, k.Get(&s), k.Get(&back))
			}
		}
	})
}
