package pipeline_test

import (
	"strings"
	"testing"

	"inkchannel/pipeline"
)

// Whatever the text: settings within their bounds that come back the same, or an
// error in one line.
func FuzzReadSettings(f *testing.F) {
	table := pipeline.Table()
	f.Add(table.WriteSettings(table.Default(), ""))
	f.Add([]byte("channel:\n  wall: 1.2 # mm\n"))
	f.Add([]byte("dots:\n  dots: \"1,2 3,4\"\nstrokes:\n  drop-lines: \"1,1\"\n"))
	f.Add([]byte("strips:\n  strip-name: 007\n"))
	f.Add([]byte("a: &x [*x]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := table.ReadSettings(table.Default(), data)
		if err != nil {
			if strings.ContainsRune(err.Error(), '\n') {
				t.Fatalf("an error in several lines: %q", err)
			}
			return
		}
		for _, k := range table.Settings() {
			if _, err := k.Set(table.Default(), k.Get(s)); err != nil {
				t.Fatalf("its own value is refused: %v", err)
			}
		}
		back, err := table.ReadSettings(table.Default(), table.WriteSettings(s, "again"))
		if err != nil {
			t.Fatalf("what it writes is refused: %v", err)
		}
		for _, k := range table.Settings() {
			if k.Get(back) != k.Get(s) {
				t.Fatalf("%s was %q, comes back as %q", k.Flag, k.Get(s), k.Get(back))
			}
		}
	})
}
