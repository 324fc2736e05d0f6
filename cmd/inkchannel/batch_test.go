package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/papers"
)

func TestBatch(t *testing.T) {
	in, out := t.TempDir(), filepath.Join(t.TempDir(), "signs")
	small, err := os.ReadFile("../../testdata/photos/teapot.jpg")
	require.NoError(t, err)
	for name, data := range map[string][]byte{"a.jpg": demoPhoto, "b.JPG": small, "b.png": []byte("no photo"), "notes.txt": []byte("x")} {
		require.NoError(t, os.WriteFile(filepath.Join(in, name), data, 0o600))
	}
	code, said, errOut := try(context.Background(), "batch", in, "-o", out, "--until", "strokes")
	assert.Equal(t, 1, code)
	assert.Equal(t, "inkchannel: 1 of 3 photos failed; the table and batch.csv say why\n", errOut)
	assert.Contains(t, said, "strip pieces")
	assert.Contains(t, said, "passed over, as it is no photo: notes.txt\n")
	f, err := os.Open(filepath.Join(out, batchTable))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 4)
	assert.Equal(t, []string{"a.jpg", "sure", "7"}, rows[1][:3])
	assert.Equal(t, []string{"b.JPG", "not sure"}, rows[2][:2])
	assert.Equal(t, []string{"b.png", "failed"}, rows[3][:2])
	assert.Contains(t, rows[3][9], "not a photo")
	// The same as a run of its own.
	one := filepath.Join(t.TempDir(), "a")
	code, _, errOut = try(context.Background(), "make", filepath.Join(in, "a.jpg"), "-o", one, "--until", "strokes", "--quiet")
	require.Equal(t, 0, code, errOut)
	same(t, one, filepath.Join(out, "a"))
	require.NoError(t, os.Remove(filepath.Join(in, "b.png")))
	code, _, errOut = try(context.Background(), "batch", in, "-o", out, "--until", "strokes", "--quiet", "--strict")
	assert.Equal(t, 3, code)
	assert.Contains(t, errOut, "1 of 2 photos in doubt")
}

// What review kept beside a photo counts in a batch, unless settings are given for all.
func TestBatchTakesKept(t *testing.T) {
	in, out := t.TempDir(), filepath.Join(t.TempDir(), "signs")
	line := []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="80mm" viewBox="0 0 120 80"><path d="M10 40 H110" stroke="black"/></svg>`)
	for name, data := range map[string][]byte{
		"a.svg": line, "b.svg": line, "c.svg": line, "a.svg.review.yaml": []byte("spacing:\n  spacing: 9\n"), "c.svg.review.yaml": []byte("tea"),
	} {
		require.NoError(t, os.WriteFile(filepath.Join(in, name), data, 0o600))
	}
	spacing := func(name string) string {
		text, err := os.ReadFile(filepath.Join(out, name, "run.yaml"))
		require.NoError(t, err)
		return regexp.MustCompile(`(?m)^ +spacing: (.*?) #`).FindStringSubmatch(string(text))[1]
	}
	code, said, _ := try(context.Background(), "batch", in, "-o", out, "--until", "spacing")
	assert.Equal(t, 1, code)
	assert.Contains(t, said, "a.svg as changed in review (")
	assert.Regexp(t, `c.svg +failed.*c.svg.review.yaml: line 1: .*; remove it to start over`, said)
	assert.NotContains(t, said, "passed over")
	assert.Equal(t, []string{"9", "7.5"}, []string{spacing("a"), spacing("b")})
	own := filepath.Join(t.TempDir(), "own.yaml")
	require.NoError(t, os.WriteFile(own, []byte("spacing:\n  spacing: 8\n"), 0o600))
	code, _, errOut := try(context.Background(), "batch", in, "-o", out, "--until", "spacing", "--settings", own, "--quiet")
	require.Equal(t, 0, code, errOut)
	assert.Equal(t, []string{"8", "8", "8"}, []string{spacing("a"), spacing("b"), spacing("c")})
}

// Files of lines, as letters makes them, are signs of a batch as photos are.
func TestBatchOfLines(t *testing.T) {
	in, out := t.TempDir(), filepath.Join(t.TempDir(), "signs")
	for name, size := range map[string]string{"sized.svg": ` width="120mm" height="80mm" viewBox="0 0 120 80"`, "unsized.svg": ""} {
		text := `<svg xmlns="http://www.w3.org/2000/svg"` + size + `><path d="M10 40 H110" stroke="black"/></svg>`
		require.NoError(t, os.WriteFile(filepath.Join(in, name), []byte(text), 0o600))
	}
	code, said, errOut := try(context.Background(), "batch", in, "-o", out, "--until", "junctions")
	require.Equal(t, 0, code, errOut)
	assert.Regexp(t, `(?m)sized.svg +sure`, said)
	assert.Regexp(t, `(?m)unsized.svg +not sure .*gives no size in mm`, said)
	one := filepath.Join(t.TempDir(), "one")
	code, _, errOut = try(context.Background(), "make", filepath.Join(in, "sized.svg"), "-o", one, "--until", "junctions", "--quiet")
	require.Equal(t, 0, code, errOut)
	same(t, one, filepath.Join(out, "sized"))
	code, said, _ = try(context.Background(), "batch", in, "-o", out, "--until", "strokes")
	assert.Equal(t, 1, code)
	assert.Contains(t, said, "a file of lines starts after the step centreline")
}

// same wants two folders to hold the same files, byte for byte.
func same(t *testing.T, want, got string) {
	t.Helper()
	list, err := os.ReadDir(want)
	require.NoError(t, err)
	others, err := os.ReadDir(got)
	require.NoError(t, err)
	require.Equal(t, len(list), len(others))
	for _, e := range list {
		a, err := os.ReadFile(filepath.Join(want, e.Name()))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(got, e.Name()))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(a, b), e.Name())
	}
}

func TestBatchRefuses(t *testing.T) {
	in := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(in, "a.jpg"), demoPhoto, 0o600))
	full := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(full, "a"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(full, "a", "letter.txt"), []byte("mine"), 0o600))
	for _, c := range []struct {
		name string
		code int
		args []string
		want string
	}{
		{"no folder", 2, []string{"batch", "-o", full}, "takes one folder"},
		{"no output", 2, []string{"batch", in}, "no output folder"},
		{"not there", 1, []string{"batch", in + "x", "-o", full}, "give a folder of photos"},
		{"a photo", 1, []string{"batch", filepath.Join(in, "a.jpg"), "-o", full}, "give a folder of photos"},
		{"nothing in it", 1, []string{"batch", t.TempDir(), "-o", filepath.Join(t.TempDir(), "x")}, "there are no photos"},
		{"output inside", 1, []string{"batch", in, "-o", filepath.Join(in, "out")}, "is inside the photo folder"},
		{"output is input", 1, []string{"batch", in, "-o", in}, "is inside the photo folder"},
		{"somebody's files", 1, []string{"batch", in, "-o", full}, "contains letter.txt"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, _, errOut := try(context.Background(), c.args...)
			assert.Equal(t, c.code, code)
			assert.Contains(t, errOut, c.want)
			assert.Equal(t, 1, strings.Count(errOut, "\n"))
		})
	}
}

func TestBatchWorkers(t *testing.T) {
	for _, c := range []struct {
		name       string
		cores      int
		memory, mp float64
		want       int
	}{
		{"cores bound it", 2, 8000, 12, 2},
		{"memory bounds it", 16, 2500, 24, 2},
		{"one at least", 4, 100, 24, 1},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, batchWorkers(c.cores, c.memory, c.mp)) })
	}
}

// A photo that the output would replace is refused.
func TestOutputOverPhoto(t *testing.T) {
	dir := t.TempDir()
	photo := filepath.Join(dir, "01-photo.jpg") // the name of a file of a run
	require.NoError(t, os.WriteFile(photo, demoPhoto, 0o600))
	code, _, errOut := try(context.Background(), "make", photo, "-o", dir)
	assert.Equal(t, 1, code)
	assert.Contains(t, errOut, "the output would replace")
	got, err := os.ReadFile(photo)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(demoPhoto, got))
}

func TestStrict(t *testing.T) {
	out := filepath.Join(t.TempDir(), "sign")
	code, _, errOut := try(context.Background(), "make", "../../testdata/photos/teapot.jpg", "-o", out, "--until", "strokes", "--quiet", "--strict")
	assert.Equal(t, 3, code)
	assert.Contains(t, errOut, "not sure of photo (confidence 0.40: the photo has only")
	assert.Equal(t, 1, strings.Count(errOut, "\n"))
	assert.FileExists(t, filepath.Join(out, "06-strokes.jpg"), "to look at")
	code, _, errOut = try(context.Background(), "demo", "-o", out, "--until", "bends", "--quiet", "--strict")
	assert.Equal(t, 0, code, errOut)
}

// asProgram says that this binary of tests shall be the program: linking that once more would take longer than
// most tests.
const asProgram = "INKCHANNEL_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
		return
	}
	os.Exit(m.Run())
}

// built is the program, to be run in a process of its own.
func built(t *testing.T) string {
	t.Helper()
	program, err := os.Executable()
	require.NoError(t, err)
	t.Setenv(asProgram, "1")
	return program
}

// All files are the same, byte for byte, on one core and on all.
func TestSameFilesOnOneCore(t *testing.T) {
	program, dir := built(t), t.TempDir()
	one, all := filepath.Join(dir, "one"), filepath.Join(dir, "all")
	for _, c := range [][]string{{"taskset", "-c", "0", program, "demo", "-o", one, "--quiet"}, {program, "demo", "-o", all, "--quiet"}} {
		text, err := exec.Command(c[0], c[1:]...).CombinedOutput()
		require.NoError(t, err, string(text))
	}
	same(t, all, one)
}

// However and whenever it is stopped, SOAK times or a few, the folder holds a whole run: the one before, or the new
// one.
func TestKilledAnyTime(t *testing.T) {
	dir := t.TempDir()
	program := built(t)
	photo := filepath.Join(dir, "photo.jpg")
	small, err := os.ReadFile("../../testdata/photos/teapot.jpg")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(photo, small, 0o600))
	run := func(out, spur string) *exec.Cmd {
		return exec.Command(program, "make", photo, "-o", filepath.Join(dir, out), "--until", "centreline", "--quiet", "--spur", spur)
	}
	require.NoError(t, run("old", "0.5").Run())
	start := time.Now()
	require.NoError(t, run("new", "0.6").Run())
	took := time.Since(start)
	require.NoError(t, run("out", "0.5").Run())
	whole := func() string {
		for _, name := range []string{"old", "new"} {
			want, err := os.ReadFile(filepath.Join(dir, name, "run.yaml"))
			require.NoError(t, err)
			got, err := os.ReadFile(filepath.Join(dir, "out", "run.yaml"))
			require.NoError(t, err)
			if bytes.Equal(want, got) {
				same(t, filepath.Join(dir, name), filepath.Join(dir, "out"))
				return name
			}
		}
		return ""
	}
	tries := soaked(t, 12)
	for i := range tries {
		cmd := run("out", []string{"0.6", "0.5"}[i%2])
		require.NoError(t, cmd.Start())
		time.Sleep(took * time.Duration(5*i) / time.Duration(4*tries))
		_ = cmd.Process.Signal([]os.Signal{os.Interrupt, syscall.SIGKILL, syscall.SIGTERM}[i%3]) // it may be done
		_ = cmd.Wait()
		assert.NotEmpty(t, whole(), "after try %d", i)
	}
}

// The table counts every broken rule, weak walls included, as the summary does, and says the cost that the
// price's own file says.
func TestBatchCountsRules(t *testing.T) {
	in, out := t.TempDir(), filepath.Join(t.TempDir(), "signs")
	require.NoError(t, os.WriteFile(filepath.Join(in, "a.jpg"), demoPhoto, 0o600))
	list := filepath.Join(t.TempDir(), "prices.yaml")
	require.NoError(t, os.WriteFile(list, papers.ExamplePrices(), 0o600))
	code, _, errOut := try(context.Background(), "batch", in, "-o", out, "--longest-bridge", "1", "--tight-bends", "join", "--prices", list, "--quiet")
	require.Equal(t, 0, code, errOut)
	f, err := os.Open(filepath.Join(out, batchTable))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 2)
	var sum folder.Summary
	data, err := os.ReadFile(filepath.Join(out, "a", folder.FileSummary))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &sum))
	broken := len(sum.Rules.Weak)
	require.Positive(t, broken, "weak walls")
	for _, b := range sum.Rules.Bends {
		if !b.Rounded {
			broken++
		}
	}
	require.Equal(t, "rules broken", rows[0][4])
	assert.Equal(t, fmt.Sprint(broken), rows[1][4])
	require.Equal(t, "cost", rows[0][7])
	priced, err := os.ReadFile(filepath.Join(out, "a", "price.csv"))
	require.NoError(t, err)
	total, currency, _ := strings.Cut(rows[1][7], " ")
	assert.Contains(t, string(priced), total)
	assert.Equal(t, "EUR", currency)
}
