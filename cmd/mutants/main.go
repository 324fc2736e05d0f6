// Mutants changes one operator of a package at a time and runs the package's own tests: a change that
// none of them notices shows what they do not check.
//
//	go run ./cmd/mutants [-sample 60] [-seed 1] ./pipeline/power ./geom/strip …
//
// It prints each survivor with its place and exits with 1 if a package has fewer than -least percent
// killed. Those of same.txt, which says why they make no difference, are not counted.
package main

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"inkchannel/geom/parallel"
)

// swaps are what each operator becomes.
var swaps = map[token.Token]token.Token{
	token.LSS: token.LEQ, token.LEQ: token.LSS, token.GTR: token.GEQ, token.GEQ: token.GTR,
	token.EQL: token.NEQ, token.NEQ: token.EQL,
	token.ADD: token.SUB, token.SUB: token.ADD, token.MUL: token.QUO, token.QUO: token.MUL,
	token.LAND: token.LOR, token.LOR: token.LAND,
	token.ADD_ASSIGN: token.SUB_ASSIGN, token.SUB_ASSIGN: token.ADD_ASSIGN,
}

// A mutant is one operator changed.
type mutant struct {
	file   string
	line   int
	offset int
	was    token.Token
	text   string // of the line
}

// changed is the file with the mutant in it.
func (m mutant) changed(source []byte) []byte {
	return slices.Concat(source[:m.offset], []byte(swaps[m.was].String()), source[m.offset+len(m.was.String()):])
}

// key names the mutant in same.txt, whatever line it is on.
func (m mutant) key() string {
	return fmt.Sprintf("%s: %s for %s: %s", filepath.ToSlash(filepath.Clean(m.file)), swaps[m.was], m.was, m.text)
}

//go:embed same.txt
var sameText string

// known are the mutants of same.txt: each a line as they are printed, below a line with # that says why.
func known(text string) map[string]bool {
	out := map[string]bool{}
	for _, l := range strings.Split(text, "\n") {
		if l = strings.TrimSpace(l); l != "" && l[0] != '#' {
			out[l] = true
		}
	}
	return out
}

// mutants lists those of a package's files but for its tests and those that are the same.
func mutants(dir string, same map[string]bool) (out []mutant, err error) {
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, err
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		source, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, name, source, 0)
		if err != nil {
			return nil, err
		}
		lines := strings.Split(string(source), "\n")
		add := func(at token.Pos, op token.Token) {
			p := set.Position(at)
			m := mutant{name, p.Line, p.Offset, op, strings.TrimSpace(lines[p.Line-1])}
			if _, ok := swaps[op]; ok && !same[m.key()] {
				out = append(out, m)
			}
		}
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.BinaryExpr:
				add(n.OpPos, n.Op)
			case *ast.AssignStmt:
				add(n.TokPos, n.Tok)
			}
			return true
		})
	}
	return out, nil
}

// What came of a mutant.
type fate int

const (
	killed fate = iota
	survived
	unbuilt // it is no program, as a sum of texts with a minus
)

// try runs the package's tests on a mutant, for so long at most.
func try(dir string, m mutant, most time.Duration) (fate, error) {
	source, err := os.ReadFile(m.file)
	if err != nil {
		return 0, err
	}
	tmp, err := os.MkdirTemp("", "mutant")
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(tmp)
	abs, err := filepath.Abs(m.file)
	if err != nil {
		return 0, err
	}
	other, overlay := filepath.Join(tmp, "m.go"), filepath.Join(tmp, "overlay.json")
	list, err := json.Marshal(map[string]map[string]string{"Replace": {abs: other}})
	if err != nil {
		return 0, err
	}
	for name, data := range map[string][]byte{other: m.changed(source), overlay: list} {
		if err := os.WriteFile(name, data, fs.FileMode(0o600)); err != nil {
			return 0, err
		}
	}
	test := filepath.Join(tmp, "test")
	if exec.Command("go", "test", "-c", "-vet=off", "-overlay", overlay, "-o", test, dir).Run() != nil {
		return unbuilt, nil
	}
	ctx, stop := context.WithTimeout(context.Background(), most)
	defer stop()
	run := exec.CommandContext(ctx, test, "-test.failfast", "-test.short")
	run.Dir = dir
	if run.Run() != nil {
		return killed, nil
	}
	return survived, nil
}

func main() {
	sample := flag.Int("sample", 0, "take only so many of each package, chosen at random; 0 for all")
	seed := flag.Uint64("seed", 1, "of that choice")
	least := flag.Float64("least", 90, "percent that must be killed")
	most := flag.Duration("most", 2*time.Minute, "a test that takes longer has noticed")
	workers := flag.Int("workers", runtime.NumCPU(), "tests at a time")
	flag.Parse()
	if flag.NArg() == 0 {
		fmt.Fprintln(os.Stderr, "mutants: no package given; give folders, as ./pipeline/power")
		os.Exit(2)
	}
	worse := false
	for _, dir := range flag.Args() {
		share, err := judge(dir, *sample, *workers, *seed, *most)
		if err != nil {
			fmt.Fprintf(os.Stderr, "mutants: %s: %v\n", dir, err)
			os.Exit(1)
		}
		worse = worse || share < *least
	}
	if worse {
		fmt.Fprintf(os.Stderr, "mutants: fewer than %g %% noticed\n", *least)
		os.Exit(1)
	}
}

// judge tries a package's mutants, prints the survivors and returns the share, in percent, of killed ones.
func judge(dir string, sample, workers int, seed uint64, most time.Duration) (float64, error) {
	all, err := mutants(dir, known(sameText))
	if err != nil {
		return 0, err
	}
	if len(all) == 0 {
		return 0, errors.New("no operators in its Go files")
	}
	if sample > 0 && sample < len(all) {
		rng := rand.New(rand.NewPCG(seed, 0))
		rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		all = all[:sample]
	}
	fates, errs := make([]fate, len(all)), make([]error, len(all))
	parallel.AtMost(workers, len(all), func(i int) {
		fates[i], errs[i] = try(dir, all[i], most)
	})
	var count [3]int
	var b bytes.Buffer
	for i, m := range all {
		if errs[i] != nil {
			return 0, errs[i]
		}
		count[fates[i]]++
		if fates[i] == survived {
			fmt.Fprintf(&b, "  line %d: %s\n", m.line, m.key())
		}
	}
	share := 100 * float64(count[killed]) / float64(max(count[killed]+count[survived], 1))
	fmt.Printf("%s: %d of %d noticed, %.0f %%; %d were no programs\n%s", dir, count[killed], count[killed]+count[survived], share, count[unbuilt], b.String())
	return share, nil
}
