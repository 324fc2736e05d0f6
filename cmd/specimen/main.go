// Command specimen writes photographs of known pen drawings: the demo photo,
// and on request the whole plain set with its ground truth beside it.
//
//	specimen demo FILE      writes the demo photo
//	specimen plain DIR      writes the plain set, a JPEG and a JSON for each
//	specimen one NAME VIEW FILE   writes one photo of the plain set
package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"

	"inkchannel/pipeline/specimen"
)

func main() {
	if len(os.Args) == 5 && os.Args[1] == "one" {
		fail(one(os.Args[2], os.Args[3], os.Args[4]))
		return
	}
	if len(os.Args) != 3 {
		fail(fmt.Errorf("usage: specimen demo FILE | specimen plain DIR | specimen one NAME VIEW FILE"))
	}
	switch os.Args[1] {
	case "demo":
		fail(demo(os.Args[2]))
	case "plain":
		fail(plain(os.Args[2]))
	default:
		fail(fmt.Errorf("no command %q: demo or plain", os.Args[1]))
	}
}

func fail(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "specimen:", err)
		os.Exit(1)
	}
}

func demo(file string) error {
	p, err := specimen.Take(specimen.Demo(), specimen.White(), specimen.DemoView())
	if err != nil {
		return err
	}
	return os.WriteFile(file, p.JPEG, 0o644)
}

func plain(dir string) error {
	words, err := specimen.PlainWords()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for _, d := range specimen.Plain(words, 0) {
		for _, v := range specimen.PlainViews() {
			p, err := specimen.Take(d, specimen.White(), v)
			if err != nil {
				return fmt.Errorf("%s %s: %w", d.Name, v.Name, err)
			}
			name := filepath.Join(dir, d.Name+"-"+v.Name)
			if err := os.WriteFile(name+".jpg", p.JPEG, 0o644); err != nil {
				return err
			}
			truth, err := json.MarshalIndent(p.Truth, "", " ")
			if err != nil {
				return err
			}
			if err := os.WriteFile(name+".json", truth, 0o644); err != nil {
				return err
			}
			fmt.Println(name, p.Truth.Want)
		}
	}
	return nil
}
