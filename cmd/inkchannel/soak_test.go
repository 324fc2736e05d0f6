package main

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/specimen"
)

// soaked is how often something is tried: a few times, or as often as SOAK says.
func soaked(t testing.TB, few int) int {
	t.Helper()
	s := os.Getenv("SOAK")
	if s == "" {
		return few
	}
	n, err := strconv.Atoi(s)
	require.NoError(t, err)
	return n
}

// spoilt is a photo as it is, cut off, or with some bits turned.
func spoilt(rng *rand.Rand, photo []byte) []byte {
	out := slices.Clone(photo)
	switch rng.IntN(4) {
	case 0:
		return out[:rng.IntN(len(out))]
	case 1:
		for range 1 + rng.IntN(20) {
			out[rng.IntN(len(out))] ^= 1 << rng.IntN(8)
		}
	}
	return out
}

// smallPhotos are so many photos of parts of the demo's drawing, some px wide.
func smallPhotos(t testing.TB, n, wide int) (out [][]byte) {
	t.Helper()
	for i := range n {
		d := specimen.Demo()
		d.Strokes = d.Strokes[i%len(d.Strokes):]
		v := specimen.DemoView()
		v.Width, v.Seed = wide, int64(i)
		p, err := specimen.Take(d, specimen.White(), v)
		require.NoError(t, err)
		out = append(out, p.JPEG)
	}
	return out
}

// One batch of SOAK photos, a third of them damaged: each has its row and, unless it failed, its
// folder, the process ends in order, and takes no more memory than a batch of an eighth of them. Without SOAK a few.
func TestSoakBatch(t *testing.T) {
	n := soaked(t, 6)
	in, base := t.TempDir(), t.TempDir()
	rng := rand.New(rand.NewPCG(16, 2000))
	photos := smallPhotos(t, min(n, 12), 900)
	names := map[string]bool{}
	for i := range n {
		name := fmt.Sprintf("%05d.jpg", i)
		names[name] = true
		require.NoError(t, os.WriteFile(filepath.Join(in, name), spoilt(rng, photos[i%len(photos)]), 0o600))
	}
	program := built(t)
	peak := func(photos, out string) (string, int64) {
		cmd := exec.Command(program, "batch", photos, "-o", out, "--no-pictures", "--quiet")
		text, _ := cmd.CombinedOutput() // photos that fail are told by its code
		assert.Contains(t, []int{0, 1}, cmd.ProcessState.ExitCode(), string(text))
		return string(text), cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss >> 10
	}
	out := filepath.Join(base, "signs")
	text, took := peak(in, out)
	f, err := os.Open(filepath.Join(out, batchTable))
	require.NoError(t, err, text)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, n+1)
	failed := 0
	for _, r := range rows[1:] {
		assert.True(t, names[r[0]], r[0])
		delete(names, r[0])
		made := filepath.Join(out, r[0][:len(r[0])-4], folder.FileSummary)
		if r[1] == "failed" {
			failed++
			assert.NotEmpty(t, r[9], "why")
			assert.NoFileExists(t, made)
			continue
		}
		assert.FileExists(t, made)
	}
	t.Logf("%d photos, %d failed, %d MB at most", n, failed, took)
	if n > 60 {
		few := t.TempDir()
		for i := range n / 8 { // damaged ones too, as drawings of scraps take more
			name := fmt.Sprintf("%05d.jpg", i)
			require.NoError(t, os.Link(filepath.Join(in, name), filepath.Join(few, name)))
		}
		_, least := peak(few, filepath.Join(base, "few"))
		t.Logf("%d MB at most for %d of them", least, n/8)
		assert.Less(t, float64(took), 1.6*float64(least), "memory grows with the number of photos")
	}
}
