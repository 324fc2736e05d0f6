package folder

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/pipeline"
	"inkchannel/pipeline/papers"
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

func TestWrite(t *testing.T) {
	one := []File{{Name: FileSettings, Data: []byte("a")}, {Name: FileChannel, Data: []byte("b")}}
	two := []File{{Name: FileSummary, Data: []byte("c")}}
	base := t.TempDir()
	dir := filepath.Join(base, "deep", "out")
	require.NoError(t, Write(pipeline.Table(), dir, one))
	assert.ElementsMatch(t, []string{FileSettings, FileChannel}, names(t, dir))
	require.NoError(t, Write(pipeline.Table(), dir+"/", two))
	assert.Equal(t, []string{FileSummary}, names(t, dir), "the earlier run is replaced whole")
	assert.Equal(t, []string{"out"}, names(t, filepath.Dir(dir)), "nothing else is left about")
	empty := filepath.Join(base, "empty")
	require.NoError(t, os.Mkdir(empty, 0o755))
	require.NoError(t, Write(pipeline.Table(), empty, one))
}

func TestSwapWithoutExchange(t *testing.T) {
	base := t.TempDir()
	at := func(n string) string { return filepath.Join(base, n) }
	require.NoError(t, os.Mkdir(at("fresh"), 0o755))
	require.NoError(t, os.WriteFile(at("fresh/x"), nil, 0o600))
	require.NoError(t, swap(at("fresh"), at("dir"), at("old")))
	assert.Equal(t, []string{"x"}, names(t, at("dir")))
}

func TestWriteRefuses(t *testing.T) {
	base := t.TempDir()
	mine := filepath.Join(base, "mine")
	require.NoError(t, os.Mkdir(mine, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(mine, "holiday.jpg"), []byte("x"), 0o600))
	file := filepath.Join(base, "file")
	require.NoError(t, os.WriteFile(file, []byte("x"), 0o600))
	for _, c := range []struct{ name, dir, want string }{
		{"another's files", mine, "contains holiday.jpg"},
		{"a file", file, "is a file"},
		{"inside a file", filepath.Join(file, "out"), "file"},
		{"no name", "", "-o DIR"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := Write(pipeline.Table(), c.dir, []File{{Name: FileSettings}})
			require.ErrorContains(t, err, c.want)
			assert.Equal(t, []string{"file", "mine"}, names(t, base))
			assert.Equal(t, []string{"holiday.jpg"}, names(t, mine))
		})
	}
	assert.Error(t, Write(pipeline.Table(), filepath.Join(base, "out"), []File{{Name: "../escape"}}))
	assert.Equal(t, []string{"file", "mine"}, names(t, base))
}

func TestPartFile(t *testing.T) {
	for in, want := range map[string]string{
		"channel": "part-channel.stl", "channel 1, piece 2 of 3": "part-channel-1-piece-2-of-3.stl", "strip test piece": "test-piece.stl",
	} {
		assert.Equal(t, want, PartFile(in))
		assert.True(t, isRunFile(pipeline.Table(), want))
		assert.False(t, strings.ContainsAny(want, " ,/"))
	}
	for _, n := range []string{"notes.txt", "1-paint.jpg", "part-x.png", "x-photo.jpg"} {
		assert.False(t, isRunFile(pipeline.Table(), n), n)
	}
	assert.True(t, isRunFile(pipeline.Table(), "1-photo.jpg"), "of an earlier version")
}

// The list of what to print and buy is on the page as in the parts list.
func TestPageList(t *testing.T) {
	page, err := pageData{Items: []papers.Item{
		{What: "print: lid", Detail: "part-lid.stl", Count: 1, Unit: "piece"},
		{What: "screw M3 x 8, countersunk", Detail: "for the stand's lid", Count: 4, Unit: "piece"},
		{What: "LED strip", Detail: "5 mm wide", Count: 1.25, Unit: "m"},
	}}.html()
	require.NoError(t, err)
	for _, cell := range []string{"1 piece", "4 pieces", "1.25 m"} {
		assert.Contains(t, string(page), "<td>"+cell+"</td>")
	}
}
