package pipeline_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/stage"
)

// assertGolden compares a text with the file of that name, which a run with
// GOLDEN=new writes anew, to be read before it is committed.
func assertGolden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("../testdata/golden", name)
	if os.Getenv("GOLDEN") == "new" {
		require.NoError(t, os.WriteFile(file, got, 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err, "write it by GOLDEN=new go test ./pipeline")
	assert.Equal(t, string(want), string(got))
}

// The assembly follows what is made: nothing is said of parts, wires or joints that
// there are not.
func TestAssemblyGolden(t *testing.T) {
	t.Parallel()
	oneArc := geom.Join([]geom.Curve{geom.Arc(geom.Pt(90, 90), 50, 200, 340)}, 0.05)
	for _, c := range []struct {
		name  string
		line  geom.Centreline
		flags []string
		not   []string // what it must not speak of
	}{
		{"stand", twoLines(), nil, []string{"wall", "snap"}},
		{"one-piece", oneArc, []string{"hold=none", "test-piece=no"}, []string{"neighbour", "test piece", "stand", "bore", "backboard", "branch"}},
		{"keyholes", twoLines(), []string{"hold=keyhole", "test-piece=no"}, []string{"test piece", "bore", "stand", "lid"}},
		{"ears-covers", twoLines(), []string{"hold=ears", "cover=yes"}, []string{"bore", "lid", "keyhole"}},
		{"pads-small-bed", twoLines(), []string{"hold=pads", "bed-width=100", "bed-depth=100"}, []string{"bore", "lid", "screw"}},
		{"no-board", oneArc, []string{"cover=yes", "foot-at=43,73"}, []string{"backboard", "groove"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := signOf(t, c.line, 180, "", settings(t, c.flags...)).file(t, folder.FileAssembly)
			for _, word := range c.not {
				assert.NotContains(t, strings.ToLower(string(got)), word)
			}
			assertGolden(t, "assembly-"+c.name+".md", got)
		})
	}
}

// What each step says of the demo's drawing, as seen small.
func TestFindingsGolden(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	for _, s := range demoSign(t).Steps {
		b.WriteString(s.Stage + ": " + s.Found + "\n")
		for _, n := range s.Notes {
			b.WriteString("    " + n + "\n")
		}
		if s.Confidence != nil {
			b.WriteString("    " + s.Confidence.String() + "\n")
		}
	}
	assertGolden(t, "findings.txt", []byte(b.String()))
}

// The settings file with all defaults.
func TestSettingsGolden(t *testing.T) {
	files, err := folder.Files(folder.Run{Table: pipeline.Table(), Results: stage.Results{}, Settings: pipeline.DefaultSettings()})
	require.NoError(t, err)
	for _, f := range files {
		if f.Name == folder.FileSettings {
			assertGolden(t, "run.yaml", f.Data)
		}
	}
}
