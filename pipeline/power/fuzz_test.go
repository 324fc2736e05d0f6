package power

import (
	"strings"
	"testing"
)

// Whatever the text: strips that can be used, or an error in one line.
func FuzzReadStrips(f *testing.F) {
	f.Add(BuiltIn())
	f.Add([]byte("strips:\n- name: a\n"))
	f.Add([]byte("- &a [*a]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := ReadStrips(data)
		if err != nil {
			if strings.ContainsRune(err.Error(), '\n') {
				t.Fatalf("an error in several lines: %q", err)
			}
			return
		}
		for _, s := range list {
			if s.Name == "" || !(s.Width > 0) || !(s.Cut > 0) || !(s.Volts > 0) || !(s.Bend > 0) {
				t.Fatalf("a strip that cannot be used: %+v", s)
			}
		}
	})
}
