package pipeline

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func names(t *testing.T, dir string) []string {
	t.Helper()
	list, err := os.ReadDir(dir)
	require.NoError(t, err)
	out := []string{}
	for _, e := range list {
		out = append(out, e.Name())
	}
	return out
}

func TestWriteRun(t *testing.T) {
	one := []File{{FileSettings, []byte("a")}, {FileChannel, []byte("b")}}
	two := []File{{FileSummary, []byte("c")}}
	base := t.TempDir()
	dir := filepath.Join(base, "deep", "out")
	require.NoError(t, WriteRun(dir, one))
	assert.ElementsMatch(t, []string{FileSettings, FileChannel}, names(t, dir))
	require.NoError(t, WriteRun(dir+"/", two))
	assert.Equal(t, []string{FileSummary}, names(t, dir), "the earlier run is replaced whole")
	assert.Equal(t, []string{"out"}, names(t, filepath.Dir(dir)), "nothing else is left about")
	empty := filepath.Join(base, "empty")
	require.NoError(t, os.Mkdir(empty, 0o755))
	require.NoError(t, WriteRun(empty, one))
}

func TestSwapWithoutExchange(t *testing.T) {
	base := t.TempDir()
	at := func(n string) string { return filepath.Join(base, n) }
	require.NoError(t, os.Mkdir(at("fresh"), 0o755))
	require.NoError(t, os.WriteFile(at("fresh/x"), nil, 0o600))
	require.NoError(t, swap(at("fresh"), at("dir"), at("old")))
	assert.Equal(t, []string{"x"}, names(t, at("dir")))
}

func TestWriteRunRefuses(t *testing.T) {
	base := t.TempDir()
	mine := filepath.Join(base, "mine")
	require.NoError(t, os.Mkdir(mine, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(mine, "holiday.jpg"), []byte("x"), 0o600))
	file := filepath.Join(base, "file")
	require.NoError(t, os.WriteFile(file, []byte("x"), 0o600))
	for _, c := range []struct{ name, dir, want string }{
		{"another's files", mine, "holds holiday.jpg"},
		{"a file", file, "is a file"},
		{"inside a file", filepath.Join(file, "out"), "file"},
		{"no name", "", "-o DIR"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := WriteRun(c.dir, []File{{FileSettings, nil}})
			require.ErrorContains(t, err, c.want)
			assert.Equal(t, []string{"file", "mine"}, names(t, base))
			assert.Equal(t, []string{"holiday.jpg"}, names(t, mine))
		})
	}
	assert.Error(t, WriteRun(filepath.Join(base, "out"), []File{{"../escape", nil}}))
	assert.Equal(t, []string{"file", "mine"}, names(t, base))
}
