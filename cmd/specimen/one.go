package main

import (
	"fmt"
	"os"

	"inkchannel/pipeline/specimen"
)

// one writes the plain set's photo of one drawing in one view.
func one(name, view, file string) error {
	words, err := specimen.PlainWords()
	if err != nil {
		return err
	}
	for _, d := range specimen.Plain(words, 0) {
		for _, v := range specimen.PlainViews() {
			if d.Name != name || v.Name != view {
				continue
			}
			p, err := specimen.Take(d, specimen.White(), v)
			if err != nil {
				return err
			}
			fmt.Println("want", p.Truth.Want)
			return os.WriteFile(file, p.JPEG, 0o644)
		}
	}
	return fmt.Errorf("the plain set has no drawing %q in view %q", name, view)
}
