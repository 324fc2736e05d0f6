// Command accuracy photographs the plain set, traces it back and prints how
// near the result comes to the truth. It exits with 1 when a goal is missed.
//
//	accuracy [-limit n] [-variant n]   the table of the plain set
//	accuracy -wide n [-first n]        the table of every n-th drawing of the wide set,
//	         [-on DIR]                 drawn onto the real photographs in DIR too
//	accuracy -memory BIN               peak memory and wall time of BIN on one 12-megapixel photo
package main

import (
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sort"
	"syscall"
	"time"

	"inkchannel/pipeline/specimen"
)

// The goals, over the whole set.
const (
	goalMedian = 0.15  // mm
	goalP95    = 0.4   // mm
	goalScale  = 0.003 // share
)

func main() {
	limit := flag.Int("limit", 0, "take only the first photos; 0 for all")
	variant := flag.Int("variant", 0, "draw with another hand and other pens; 0 is the plain set")
	step := flag.Int("wide", 0, "take every n-th drawing of the wide set instead, under all conditions; 1 takes all")
	first := flag.Int("first", 0, "the first drawing of the wide set to take")
	under := flag.String("under", "", "take only this condition of the wide set, by its name in the table")
	on := flag.String("on", "", "draw the wide set onto the real photographs in this folder too")
	words := flag.Int("words", 500, "words in the wide set")
	worst := flag.String("worst", "out/accuracy", "folder for the wide set's worst photos and its CSV; made anew")
	memory := flag.String("memory", "", "measure this program instead")
	flag.Parse()
	var err error
	switch {
	case *memory != "":
		err = measure(*memory)
	case *step > 0:
		err = wide(*words, *step, *first, *under, *on, *worst)
	default:
		err = table(*limit, *variant)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "accuracy:", err)
		os.Exit(1)
	}
}

// A tally sums up scores.
type tally struct {
	photos, right int
	distances     []float64
	scale         float64 // the worst
}

func (t *tally) add(s specimen.Score) {
	t.photos++
	if s.TopologyRight {
		t.right++
	}
	t.distances = append(t.distances, s.Distances...)
	t.scale = max(t.scale, math.Abs(s.ScaleError))
}

func (t *tally) row(name string) {
	sort.Float64s(t.distances)
	fmt.Printf(
		"| %-14s | %6d | %4d | %6.3f | %6.3f | %6.3f | %6.3f |\n", name, t.photos, t.right,
		specimen.Quantile(t.distances, 0.5), specimen.Quantile(t.distances, 0.95),
		specimen.Quantile(t.distances, 1), 100*t.scale,
	)
}

func table(limit, variant int) error {
	words, err := specimen.PlainWords()
	if err != nil {
		return err
	}
	fmt.Println("| drawing        | photos | topology right | median mm | 95th mm | largest mm | scale % |")
	fmt.Println("|----------------|--------|------|--------|--------|--------|--------|")
	all, views := &tally{}, map[string]*tally{}
	var names []string
	for _, d := range specimen.Plain(words, variant) {
		one := &tally{}
		for _, v := range specimen.PlainViews() {
			if limit > 0 && all.photos >= limit {
				break
			}
			s, err := score(d, v)
			if err != nil {
				fmt.Printf("%s %s: %v\n", d.Name, v.Name, err)
				s = specimen.Score{ScaleError: 1}
			}
			if views[v.Name] == nil {
				views[v.Name] = &tally{}
				names = append(names, v.Name)
			}
			for _, t := range []*tally{one, all, views[v.Name]} {
				t.add(s)
			}
		}
		if one.photos > 0 {
			one.row(d.Name)
		}
	}
	for _, n := range names {
		views[n].row("view " + n)
	}
	all.row("all")
	if all.right < all.photos || specimen.Quantile(all.distances, 0.5) > goalMedian ||
		specimen.Quantile(all.distances, 0.95) > goalP95 || all.scale > goalScale {
		return fmt.Errorf(
			"goal missed: every topology right, median %g mm, 95th percentile %g mm, scale %g %%", goalMedian,
			goalP95, 100*goalScale,
		)
	}
	return nil
}

// score photographs, traces and compares one drawing.
func score(d specimen.Drawing, v specimen.View) (specimen.Score, error) {
	p, err := specimen.Take(d, specimen.White(), v)
	if err != nil {
		return specimen.Score{}, err
	}
	r, err := traced(p)
	if err != nil {
		return specimen.Score{}, err
	}
	return compared(p, r), nil
}

// measure runs the program on a 12-megapixel photo, five times.
func measure(program string) error {
	dir, err := os.MkdirTemp("", "inkchannel-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	p, err := specimen.Take(specimen.Demo(), specimen.White(), specimen.DemoView())
	if err != nil {
		return err
	}
	photo := filepath.Join(dir, "photo.jpg")
	if err := os.WriteFile(photo, p.JPEG, 0o644); err != nil {
		return err
	}
	for range 5 {
		cmd := exec.Command(program, "make", photo, "-o", filepath.Join(dir, "out"), "--quiet")
		start := time.Now()
		if out, err := cmd.CombinedOutput(); err != nil {
			return fmt.Errorf("%s: %w: %s", program, err, out)
		}
		use, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage)
		if !ok {
			return errors.New("this system does not tell a program's memory")
		}
		fmt.Printf("whole program, 12 megapixels, %d cores: %.2f s wall, %.2f s of processor, %d MB at most\n",
			runtime.NumCPU(), time.Since(start).Seconds(),
			(cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds(), use.Maxrss>>10)
	}
	return nil
}
