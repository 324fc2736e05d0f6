package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"

	"inkchannel/cmd/inkchannel/desk"
	"inkchannel/geom/rules"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
)

func TestReviewCommand(t *testing.T) {
	code, _, errOut := try(context.Background(), "review", "a.jpg", "b.jpg")
	assert.Equal(t, 2, code)
	assert.Contains(t, errOut, "takes one photo")
	photo := filepath.Join(t.TempDir(), "photo.jpg")
	require.NoError(t, os.WriteFile(photo, []byte("no photo"), 0o600))
	code, _, errOut = try(context.Background(), "review", photo)
	assert.Equal(t, 1, code)
	assert.Contains(t, errOut, "not a photo")
}

// A finished run is opened by its folder: its photo is found beside it, its
// settings are taken, and the page may write it anew.
func TestReviewOfRun(t *testing.T) {
	dir := t.TempDir()
	photo, run := filepath.Join(dir, "teapot.jpg"), filepath.Join(dir, "sign")
	other := append(bytes.Clone(demoPhoto), 0) // so that it is not the demo's
	require.NoError(t, os.WriteFile(photo, other, 0o600))
	code, _, errOut := try(context.Background(), "make", photo, "-o", run, "--until", "spacing", "--spacing", "9", "--quiet")
	require.Equal(t, 0, code, errOut)
	var j desk.Job
	open := func(args ...string) error {
		app := newApp(pipeline.Table(), io.Discard, io.Discard)
		for _, c := range app.Commands {
			if c.Name == "review" {
				c.Action = func(c *cli.Context) (err error) {
					j, err = openJob(c, c.Args().First())
					return err
				}
			}
		}
		return app.Run(append([]string{"inkchannel", "review"}, args...))
	}
	require.NoError(t, open(run))
	assert.Equal(t, photo, j.Photo)
	assert.Equal(t, 9.0, stage.SettingsOf[rules.SpacingSettings](j.Settings).Least)
	assert.Equal(t, run, j.Dir)
	require.NoError(t, open("--spacing", "8", "-o", run+"2", run))
	assert.Equal(t, 8.0, stage.SettingsOf[rules.SpacingSettings](j.Settings).Least, "a flag goes before the run's settings")
	assert.Equal(t, run+"2", j.Dir)
	elsewhere := filepath.Join(t.TempDir(), "moved.jpg")
	require.NoError(t, os.Rename(photo, elsewhere))
	err := open(run)
	assert.ErrorContains(t, err, `"teapot.jpg", is neither next to that folder nor in this one`)
	require.NoError(t, open("--photo", elsewhere, run))
	assert.Equal(t, elsewhere, j.Photo)
	require.NoError(t, os.WriteFile(elsewhere, demoPhoto, 0o600))
	assert.ErrorContains(t, open("--photo", elsewhere, run), "is not the photo that")
	assert.ErrorContains(t, open("--photo", elsewhere, elsewhere), "goes with a run's folder")
	assert.ErrorContains(t, open(dir), "give the folder of a finished run")
	require.NoError(t, os.WriteFile(filepath.Join(run, "run.yaml"), []byte("spacing:\n  spacing: wide\n"), 0o600))
	assert.ErrorContains(t, open(run), "line 2: spacing")
}
