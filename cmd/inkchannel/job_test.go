package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

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
	// So is a run on lines from a file.
	drawn, lineRun := filepath.Join(dir, "lines.svg"), filepath.Join(dir, "lined")
	require.NoError(t, os.WriteFile(drawn, []byte(`<svg width="160mm" height="120mm" viewBox="0 0 160 120"><path d="M20 20 h 120"/></svg>`), 0o600))
	code, _, errOut = try(context.Background(), "make", drawn, "-o", lineRun, "--until", "spacing", "--quiet")
	require.Equal(t, 0, code, errOut)
	require.NoError(t, open(lineRun))
	assert.Equal(t, drawn, j.Photo)
	require.NotNil(t, j.Lines)
	assert.Len(t, j.Lines.Curves, 1)
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

// The finished runs of a folder, and the photos changed in it, the last one first.
func TestEarlierHere(t *testing.T) {
	dir := t.TempDir()
	now := time.Now()
	for i, run := range []struct {
		name  string
		files []string
	}{
		{"old", []string{"run.yaml", "summary.json"}},
		{"unfinished", []string{"run.yaml"}},
		{"new", []string{"run.yaml", "summary.json"}},
		{"other", nil},
	} {
		require.NoError(t, os.Mkdir(filepath.Join(dir, run.name), 0o700))
		for _, f := range run.files {
			name := filepath.Join(dir, run.name, f)
			require.NoError(t, os.WriteFile(name, nil, 0o600))
			require.NoError(t, os.Chtimes(name, now, now.Add(time.Duration(i)*time.Minute)))
		}
	}
	for _, name := range []string{"untouched.jpg", "changed.jpg", "changed.jpg.review.yaml", "gone.jpg.review.yaml"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), nil, 0o600))
	}
	require.NoError(t, os.Chtimes(filepath.Join(dir, "changed.jpg.review.yaml"), now, now.Add(time.Minute)))
	assert.Equal(t, []string{"new", "changed.jpg", "old"}, earlierHere(dir))
	assert.Empty(t, earlierHere(filepath.Join(dir, "none")))
}

// Changes are kept beside the photo for the next time, and the file goes once nothing is changed.
func TestReviewKeepsChanges(t *testing.T) {
	dir := t.TempDir()
	photo := filepath.Join(dir, "teapot.jpg")
	require.NoError(t, os.WriteFile(photo, demoPhoto, 0o600))
	open := func(args ...string) (j desk.Job, err error) {
		app := newApp(pipeline.Table(), io.Discard, io.Discard)
		for _, c := range app.Commands {
			if c.Name == "review" {
				c.Action = func(c *cli.Context) error {
					j, err = openJob(c, c.Args().First())
					return err
				}
			}
		}
		return j, app.Run(append([]string{"inkchannel", "review"}, args...))
	}
	least := func(j desk.Job) float64 { return stage.SettingsOf[rules.SpacingSettings](j.Settings).Least }
	j, err := open(photo)
	require.NoError(t, err)
	first := least(j)
	changed := stage.With(j.Settings, func(s *rules.SpacingSettings) { s.Least = 9 })
	require.NoError(t, j.Keep(changed))
	assert.Equal(t, "teapot.jpg.review.yaml", j.KeptIn)
	j, err = open(photo)
	require.NoError(t, err)
	assert.Equal(t, 9.0, least(j))
	j, err = open("--spacing", "8", photo)
	require.NoError(t, err)
	assert.Equal(t, 8.0, least(j), "a flag goes before what was kept")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "own.yaml"), []byte("spacing:\n  spacing: 10\n"), 0o600))
	j, err = open("--settings", filepath.Join(dir, "own.yaml"), photo)
	require.NoError(t, err)
	assert.Equal(t, 10.0, least(j), "and so does a settings file")
	require.NoError(t, j.Keep(pipeline.DefaultSettings()))
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, files, 2, "nothing is left of it")
	j, err = open(photo)
	require.NoError(t, err)
	assert.Equal(t, first, least(j))
	require.NoError(t, os.WriteFile(photo+".review.yaml", []byte("spacing:\n  spacing: tea\n"), 0o600))
	_, err = open(photo)
	assert.ErrorContains(t, err, "teapot.jpg.review.yaml")
	assert.ErrorContains(t, err, "remove it to start over")
	require.NoError(t, os.RemoveAll(dir))
	assert.Error(t, j.Keep(changed), "the folder is gone")
}

// Changes to a photo that the page took are kept beside it where it lies in this folder.
func TestReviewKeepsChangesOfTakenPhoto(t *testing.T) {
	t.Chdir(t.TempDir())
	require.NoError(t, os.WriteFile("teapot.jpg", demoPhoto, 0o600))
	take := func(name string, data []byte) (j desk.Job, err error) {
		app := newApp(pipeline.Table(), io.Discard, io.Discard)
		for _, c := range app.Commands {
			if c.Name == "review" {
				c.Action = func(c *cli.Context) error {
					j, err = besidePhoto(c, desk.Job{
						Source: pipeline.Source{Name: name, Data: data}, Photo: name, Settings: pipeline.DefaultSettings(),
					})
					return err
				}
			}
		}
		return j, app.Run([]string{"inkchannel", "review"})
	}
	for _, c := range []struct {
		name, photo string
		data        []byte
	}{
		{"from another folder", "kettle.jpg", demoPhoto},
		{"of the same name, but another", "teapot.jpg", demoPhoto[1:]},
	} {
		t.Run(c.name, func(t *testing.T) {
			j, err := take(c.photo, c.data)
			require.NoError(t, err)
			assert.Nil(t, j.Keep)
		})
	}
	j, err := take("teapot.jpg", demoPhoto)
	require.NoError(t, err)
	require.NoError(t, j.Keep(stage.With(j.Settings, func(s *rules.SpacingSettings) { s.Least = 9 })))
	assert.FileExists(t, j.KeptIn)
	j, err = take("teapot.jpg", demoPhoto)
	require.NoError(t, err)
	assert.Equal(t, 9.0, stage.SettingsOf[rules.SpacingSettings](j.Settings).Least)
	require.NoError(t, os.WriteFile(j.KeptIn, []byte("spacing:\n  spacing: tea\n"), 0o600))
	_, err = take("teapot.jpg", demoPhoto)
	assert.ErrorContains(t, err, "remove it to start over")
}

// A fault of the program with one photo is that photo's error.
func TestFaultIsAnError(t *testing.T) {
	_, _, err := makeFiles(context.Background(), sign{name: "teapot.jpg"}, func(stage.Step) {})
	require.ErrorContains(t, err, "teapot.jpg: the program itself is at fault")
	assert.NotContains(t, err.Error(), "\n")
}
