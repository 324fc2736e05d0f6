package main

import (
	"cmp"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"github.com/schollz/progressbar/v3"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
	"inkchannel/pipeline"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
)

// The goals of the wide set, for what makers are told to do and for the rest.
const (
	plainRight, hardRight   = 0.99, 0.97
	plainMedian, hardMedian = 0.2, 0.35 // mm
)

// What counts as wrong beside a wrong topology.
const (
	wrongMedian = 0.5  // mm
	wrongScale  = 0.01 // share
)

// A verdict is what came of one photo.
type verdict struct {
	drawing   string
	condition specimen.Condition
	score     specimen.Score
	dots      bool
	err       error    // the tool refused
	doubts    []string // where it said that it was not sure
	number    int      // of the drawing, to make it again
	unclear   bool     // the drawing means two things
}

func (v verdict) wrong() bool {
	far, scale := wrongMedian, wrongScale
	if v.condition.Name == onReal.Name {
		far, scale = bentMedian, bentScale
	}
	return v.err != nil || !v.score.TopologyRight || v.score.Median > far || math.Abs(v.score.ScaleError) > scale
}

// silent reports whether the result is wrong and the tool did not say so.
func (v verdict) silent() bool { return v.err == nil && v.wrong() && len(v.doubts) == 0 }

// A wideSet is the wide set with the real photographs that it is drawn on too.
type wideSet struct {
	*specimen.WideSet
	real []backdropFile
}

// wide photographs every step'th drawing of the wide set under all conditions,
// or only the one named, prints the table, and puts the worst into folder dir. Real
// photographs are those in folder on.
func wide(words, step, first int, under, on, dir string) error {
	drawn, err := specimen.NewWideSet("testdata/npm", words)
	if err != nil {
		return err
	}
	set := wideSet{WideSet: drawn}
	if set.real, err = backdropFiles(on); err != nil {
		return err
	}
	var todo []int
	for i := first; i < set.Len(); i += step {
		todo = append(todo, i)
	}
	all := make([][]verdict, len(todo))
	errs := make([]error, len(todo))
	bar := progressbar.Default(int64(len(todo)), "drawings")
	parallel.Each(len(todo), func(k int) {
		all[k], errs[k] = set.judge(todo[k], under)
		_ = bar.Add(1) // a bar that cannot be drawn is no reason to stop
	})
	if err := errors.Join(errs...); err != nil {
		return err
	}
	flat := slices.Concat(all...)
	missed := printWide(os.Stdout, flat)
	return errors.Join(keepWorst(set, flat, dir), missed)
}

// A taken is a photo with how it was taken.
type taken struct {
	condition specimen.Condition
	photo     specimen.Photo
}

// judge photographs drawing i under all conditions, or only the one named, and traces it.
func (w wideSet) judge(i int, under string) ([]verdict, error) {
	d, clear, err := w.Drawing(i)
	if err != nil {
		return nil, err
	}
	all, err := w.take(d, i, under)
	if err != nil {
		return nil, err
	}
	var out []verdict
	for _, t := range all {
		v := verdict{drawing: d.Name, condition: t.condition, number: i, unclear: !clear}
		r, err := traced(t.photo)
		v.err = err
		if err == nil {
			v.score = compared(t.photo, r)
			v.dots = math.Abs(v.score.ScaleError) <= wrongScale
			for _, q := range r.Doubts() {
				v.doubts = append(v.doubts, q.Stage+": "+q.Confidence.Why)
			}
		} else {
			v.score = specimen.Score{Want: t.photo.Truth.Want, ScaleError: 1}
			var se *stage.Error
			v.dots = errors.As(err, &se) && se.Stage != pipeline.StageDots && se.Stage != pipeline.StageSheet
		}
		v.score.Distances = thinned(v.score.Distances)
		out = append(out, v)
	}
	return out, nil
}

// take photographs d, number i, under all conditions that suit it, or only the one named.
func (w wideSet) take(d specimen.Drawing, i int, under string) (out []taken, err error) {
	type sheet struct {
		paper specimen.Paper
		touch specimen.Touch
	}
	leaves := map[sheet]specimen.Leaf{}
	for _, c := range specimen.Conditions(int64(i)) {
		if under != "" && c.Name != under || !c.For(d) {
			continue
		}
		leaf, ok := leaves[sheet{c.Paper, c.Touch}]
		if !ok {
			leaf = specimen.Ink(c.By(d), int64(i)).On(c.Paper, c.View.Seed)
			leaves[sheet{c.Paper, c.Touch}] = leaf
		}
		p, err := leaf.Take(c.View)
		if err != nil {
			return nil, err
		}
		out = append(out, taken{c, p})
	}
	if n := len(w.real); n > 0 && (under == "" || under == onReal.Name) {
		p, ok, err := w.real[i%n].take(d, int64(i))
		if err != nil {
			return nil, err
		}
		if ok {
			out = append(out, taken{onReal, p})
		}
	}
	return out, nil
}

// traced takes a photo as far as its centreline.
func traced(p specimen.Photo) (stage.Results, error) {
	return pipeline.RunPhoto(
		context.Background(), pipeline.Source{Data: p.JPEG},
		stage.Run{Settings: pipeline.DefaultSettings(), Until: pipeline.StageCentreline},
	)
}

// compared holds what was traced against what was drawn.
func compared(p specimen.Photo, r stage.Results) specimen.Score {
	var lines []geom.Polyline
	for _, c := range stage.Of[pipeline.CentrelineFound](r).Line.Curves {
		lines = append(lines, c.Flatten(0.01))
	}
	topology := stage.Of[pipeline.StrokesFound](r).Strokes.Topology()
	return p.Truth.Compare(lines, topology, stage.Of[pipeline.DotsFound](r).Frame.Size)
}

// thinned keeps 200 of the sorted distances, evenly, the largest among them, so
// that thousands of photos fit into memory.
func thinned(d []float64) []float64 {
	const keep = 200
	if len(d) <= keep {
		return d
	}
	out := make([]float64, keep)
	for i := range out {
		out[i] = d[(len(d)-1)*i/(keep-1)]
	}
	return out
}

// printWide writes the table by condition, and returns an error if a goal is
// missed.
func printWide(w io.Writer, all []verdict) error {
	fmt.Fprintln(
		w,
		"| condition          | photos | topology right % | dots found % | median mm | 95th mm | largest mm | "+
			"scale % | not sure | refused | wrong | wrong and silent |",
	)
	fmt.Fprintln(
		w, "|--------------------|-----|-------|-------|-------|-------|-------|-------|-----|-----|-----|-----|",
	)
	var missed error
	var silent int
	for _, c := range append(specimen.Conditions(0), onReal) {
		t := &tally{}
		n, right, dots, unsure, refused, wrong, quiet := 0, 0, 0, 0, 0, 0, 0
		for _, v := range all {
			if v.condition.Name != c.Name || v.unclear {
				continue
			}
			n++
			count := func(on bool, to *int) {
				if on {
					*to++
				}
			}
			count(v.score.TopologyRight, &right)
			count(v.dots, &dots)
			count(len(v.doubts) > 0, &unsure)
			count(v.err != nil, &refused)
			count(v.wrong(), &wrong)
			count(v.silent(), &quiet)
			if v.err == nil {
				t.add(v.score)
			}
		}
		if n == 0 {
			continue
		}
		sort.Float64s(t.distances)
		median := specimen.Quantile(t.distances, 0.5)
		share := func(k int) float64 { return 100 * float64(k) / float64(n) }
		fmt.Fprintf(
			w, "| %-18s | %d | %.1f | %.1f | %.3f | %.3f | %.2f | %.2f | %d | %d | %d | %d |\n", c.Name, n,
			share(right), share(dots), median, specimen.Quantile(t.distances, 0.95),
			specimen.Quantile(t.distances, 1), 100*t.scale, unsure, refused, wrong, quiet,
		)
		silent += quiet
		least, most := plainRight, plainMedian
		if c.Hard {
			least, most = hardRight, hardMedian
		}
		if float64(right) < least*float64(n) || median > most {
			missed = errors.Join(
				missed,
				fmt.Errorf("goal missed, %s: %g %% of topologies right, median %g mm", c.Name, 100*least, most),
			)
		}
	}
	printUnclear(w, all)
	if silent > 0 {
		missed = errors.Join(
			missed, fmt.Errorf("goal missed: %d wrong results without a word of doubt, goal 0", silent),
		)
	}
	return missed
}

// printUnclear tells of the drawings that the table leaves out.
func printUnclear(w io.Writer, all []verdict) {
	photos, other, quiet := 0, 0, 0
	names := map[string]bool{}
	for _, v := range all {
		if !v.unclear {
			continue
		}
		photos++
		names[v.drawing] = true
		if v.wrong() {
			other++
		}
		if v.silent() {
			quiet++
		}
	}
	if photos > 0 {
		list := slices.Sorted(maps.Keys(names))
		fmt.Fprintf(
			w,
			"\nleft out as ambiguous with any pen: %s; of their %d photos %d are read otherwise than our count, %d "+
				"without a doubt said\n", strings.Join(list, "; "), photos, other, quiet,
		)
	}
}

// mostWorst is how many of the worst are kept to look at.
const mostWorst = 20

// keepWorst writes all verdicts as CSV into folder dir, and the photos and
// strokes of the worst.
func keepWorst(set wideSet, all []verdict, dir string) error {
	if err := os.RemoveAll(dir); err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	f, err := os.Create(filepath.Join(dir, "all.csv"))
	if err != nil {
		return err
	}
	w := csv.NewWriter(f)
	_ = w.Write(
		[]string{
			"number",
			"drawing",
			"condition",
			"wrong",
			"silent",
			"want",
			"got",
			"median mm",
			"95th mm",
			"largest mm",
			"scale",
			"error",
			"doubts",
		},
	)
	for _, v := range all {
		text := ""
		if v.err != nil {
			text = v.err.Error()
		}
		s := v.score
		_ = w.Write(
			[]string{
				fmt.Sprint(v.number),
				v.drawing,
				v.condition.Name,
				fmt.Sprint(v.wrong()),
				fmt.Sprint(v.silent()),
				fmt.Sprint(s.Want),
				fmt.Sprint(s.Got),
				fmt.Sprintf("%.3f", s.Median),
				fmt.Sprintf("%.3f", s.P95),
				fmt.Sprintf("%.3f", s.Max),
				fmt.Sprintf("%.5f", s.ScaleError),
				text,
				strings.Join(v.doubts, "; "),
			},
		)
	}
	w.Flush()
	if err := errors.Join(w.Error(), f.Close()); err != nil {
		return err
	}
	rank := func(v verdict) float64 {
		switch {
		case v.silent():
			return 3000 + v.score.Median
		case v.wrong() && v.err == nil:
			return 2000 + v.score.Median
		case v.err != nil:
			return 1000
		}
		return v.score.P95
	}
	worst := slices.Clone(all)
	slices.SortStableFunc(worst, func(a, b verdict) int { return cmp.Compare(rank(b), rank(a)) })
	for k, v := range worst[:min(len(worst), mostWorst)] {
		if err := keep(set, v, filepath.Join(dir, fmt.Sprintf("%02d", k+1))); err != nil {
			return err
		}
	}
	return nil
}

// keep makes a photo again and writes it beside the picture of its strokes.
func keep(set wideSet, v verdict, base string) error {
	d, _, err := set.Drawing(v.number)
	if err != nil {
		return err
	}
	again, err := set.take(d, v.number, v.condition.Name)
	if err != nil {
		return err
	}
	p := again[0].photo
	note := fmt.Sprintf(
		"%s\n%s\nwant %+v\ngot  %+v\nmedian %.3f, 95th %.3f, largest %.3f mm, scale %.5f\nerror: %v\ndoubts: %s\n",
		v.drawing, v.condition.Name, v.score.Want, v.score.Got, v.score.Median, v.score.P95, v.score.Max,
		v.score.ScaleError, v.err, strings.Join(v.doubts, "; "),
	)
	if err := errors.Join(os.WriteFile(base+".txt", []byte(note), 0o644), os.WriteFile(base+"-photo.jpg", p.JPEG, 0o644)); err != nil {
		return err
	}
	table := pipeline.Table()
	r, _ := table.Run(
		context.Background(), pipeline.Given(pipeline.Source{Data: p.JPEG}),
		stage.Run{Settings: table.Default(), Until: pipeline.StageStrokes},
	)
	for _, name := range []string{pipeline.StageSheet, pipeline.StageStrokes} {
		if !r.Ran(name) {
			continue
		}
		img, err := table.Picture(r, name)
		if err != nil {
			return err
		}
		file, err := table.PictureFile(name)
		if err != nil {
			return err
		}
		data, err := picture.Encode(img, file)
		if err != nil {
			return err
		}
		if err := os.WriteFile(base+"-"+file, data, 0o644); err != nil {
			return err
		}
	}
	return nil
}
