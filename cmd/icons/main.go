// Command icons makes a sign of each of npm's feather-icons, whose centrelines
// are known, has every part checked by npm's manifold-3d, and lists every fit
// rule that fails with place and distance.
package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
	"inkchannel/pipeline"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
)

// unit is how many mm one unit of an icon becomes: 8 makes signs 192 mm wide.
const unit = 8

func main() {
	limit := flag.Int("limit", 0, "only so many icons")
	list := flag.String("list", "", "write the failed fit rules to this file")
	flag.Parse()
	if err := run(*limit, *list); err != nil {
		fmt.Fprintln(os.Stderr, "icons:", err)
		os.Exit(1)
	}
}

// An outcome is what came of one icon.
type outcome struct {
	name   string
	err    error
	rules  []string // failed, in words
	prints int
	beds   int
	tight  int
	strips int // pieces of strip, and how few could do
	bound  int
	bends  int
	weak   int
	gaps   int     // places that stay dark
	dark   float64 // mm of them
	length float64 // mm of line
}

// A verdict is what manifold-3d says of a mesh.
type verdict struct {
	Status string
	Genus  int
	Volume float64
}

// atOnce is how many icons are worked on at a time, for the memory that each takes.
const atOnce = 2

func run(limit int, list string) error {
	names, err := specimen.Icons("testdata/npm")
	if err != nil {
		return err
	}
	if limit > 0 && limit < len(names) {
		names = names[:limit]
	}
	dir, err := os.MkdirTemp("", "icons-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	out := make([]outcome, len(names))
	each := make([]map[string]float64, len(names))
	parallel.AtMost(atOnce, len(names), func(i int) { each[i], out[i].err = sign(names[i], dir, &out[i]) })
	volumes := map[string]float64{}
	for _, v := range each {
		maps.Copy(volumes, v)
	}
	verdicts, err := check(dir)
	if err != nil {
		return err
	}
	return report(out, volumes, verdicts, list)
}

// sign makes one icon's sign and writes its meshes; it returns their volumes.
func sign(name, dir string, o *outcome) (map[string]float64, error) {
	o.name = strings.TrimSuffix(filepath.Base(name), ".svg")
	line, err := specimen.Icon(name, unit)
	if err != nil {
		return nil, err
	}
	side := float64(specimen.IconSide * unit)
	r, err := pipeline.RunLine(context.Background(), line, geom.Pt(side, side), stage.Run{Settings: pipeline.DefaultSettings()})
	if err != nil {
		return nil, err
	}
	o.rules = pipeline.Table().FailedRules(r)
	beds, strips := stage.Of[pipeline.BedsFound](r), stage.Of[pipeline.StripsFound](r)
	o.prints, o.beds = len(beds.Prints), beds.Layout.Beds
	o.strips, o.bound = len(strips.Pieces), strips.Bound
	o.tight, o.bends = len(stage.Of[pipeline.SpacingFound](r).Tight), len(stage.Of[pipeline.BendsFound](r).Bends)
	o.gaps = len(strips.Dark)
	for _, d := range strips.Dark {
		o.dark += d.Length
	}
	for _, p := range strips.Pieces {
		o.length += p.Path
	}
	o.weak = len(stage.Of[pipeline.WallsFound](r).Weak)
	volumes := map[string]float64{}
	for i, p := range beds.Prints {
		key := fmt.Sprintf("%s.%d", o.name, i)
		volumes[key] = p.Mesh.Volume()
		if err := os.WriteFile(filepath.Join(dir, key+".mesh"), specimen.MeshFile(p.Mesh), 0o600); err != nil {
			return nil, err
		}
	}
	return volumes, nil
}

func check(dir string) (map[string]verdict, error) {
	cmd := exec.Command("node", "testdata/outside/manifold.mjs", dir)
	cmd.Stderr = os.Stderr
	data, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("manifold-3d: %w; run make test-deps", err)
	}
	var v map[string]verdict
	return v, json.Unmarshal(data, &v)
}

// report prints the counts and returns an error if a part is not manifold or a
// sign was not made.
func report(out []outcome, volumes map[string]float64, verdicts map[string]verdict, list string) error {
	made, parts, bad, tight, bends, weak, clean, strips, more, lit := 0, 0, 0, 0, 0, 0, 0, 0, 0, 0
	dark, length := 0.0, 0.0
	var lines []string
	for _, o := range out {
		if o.err != nil {
			fmt.Printf("%-24s not made: %v\n", o.name, o.err)
			continue
		}
		made++
		parts += o.prints
		tight, bends, weak = tight+o.tight, bends+o.bends, weak+o.weak
		strips += o.strips
		dark, length = dark+o.dark, length+o.length
		if o.gaps == 0 {
			lit++
		}
		if o.strips > o.bound {
			more++
			fmt.Printf("%-24s %d pieces of strip, %d could do\n", o.name, o.strips, o.bound)
		}
		if len(o.rules) == 0 {
			clean++
		}
		for _, r := range o.rules {
			lines = append(lines, o.name+": "+r)
		}
	}
	for key, v := range volumes {
		c, ok := verdicts[key]
		if !ok || c.Status != "NoError" || c.Volume < 0.999*v || c.Volume > 1.001*v {
			bad++
			fmt.Printf("%-24s %+v, our volume %.1f mm3\n", key, c, v)
		}
	}
	fmt.Printf("%d icons, %d signs made, %d of them keep every fit rule\n", len(out), made, clean)
	fmt.Printf("%d printed pieces, %d not manifold by manifold-3d or of another volume\n", parts, bad)
	fmt.Printf(
		"%d fit rules failed with place and distance: %d tight spacings and %d tight bends in all, %d weak walls\n",
		len(lines), tight, bends, weak,
	)
	fmt.Printf("%d pieces of strip, %d signs have more than must be\n", strips, more)
	fmt.Printf("%d signs have no dark place over 3 mm; %.2f %% of all line stays dark in such places\n", lit, 100*dark/length)
	if list != "" {
		if err := os.WriteFile(list, []byte(strings.Join(lines, "\n")+"\n"), 0o644); err != nil {
			return err
		}
	}
	if bad > 0 || made < len(out) {
		return fmt.Errorf("%d parts are not manifold, %d signs were not made", bad, len(out)-made)
	}
	return nil
}
