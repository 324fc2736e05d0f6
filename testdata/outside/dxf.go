package outside

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
)

// A DXF is what ezdxf, a reader that is none of ours, finds in a drawing interchange file; lengths are
// in the file's unit.
type DXF struct {
	Version string
	Faults  []string
	Layers  map[string]struct {
		Kinds        map[string]int // entities by their name
		Length, Area float64        // of all lines, and inside the closed ones
		Least        float64        // area inside the least of them
		Circles      [][3]float64   // x, y and diameter
	}
}

// ReadDXF reads a DXF file. A test whose file cannot be read fails.
func ReadDXF(t testing.TB, data []byte) (out DXF) {
	t.Helper()
	_, here, _, _ := runtime.Caller(0)
	file := filepath.Join(t.TempDir(), "a.dxf")
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command(Python(t, "ezdxf"), filepath.Join(filepath.Dir(here), "readdxf.py"), file).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	return out
}
