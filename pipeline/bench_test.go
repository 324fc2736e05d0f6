package pipeline

import (
	"context"
	"testing"

	"inkchannel/pipeline/specimen"
	"inkchannel/vision"
)

// BenchmarkStages times each stage on a 12-megapixel photo.
func BenchmarkStages(b *testing.B) {
	p, err := specimen.Take(specimen.Demo(), specimen.White(), specimen.DemoView())
	if err != nil {
		b.Fatal(err)
	}
	total := map[string]float64{}
	b.ResetTimer()
	for range b.N {
		_, err := Run(context.Background(), p.JPEG, Default(), "", func(_ *Result, s Step) {
			total[s.Stage] += s.Took.Seconds() * 1000
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	for i, s := range Stages() {
		b.ReportMetric(total[s.Name]/float64(b.N), string(rune('1'+i))+"_"+s.Name+"_ms")
	}
}

// BenchmarkDecode times the JPEG decoder alone.
func BenchmarkDecode(b *testing.B) {
	p, err := specimen.Take(specimen.Demo(), specimen.White(), specimen.DemoView())
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for range b.N {
		if _, err := vision.Load(p.JPEG, vision.DefaultLoad()); err != nil {
			b.Fatal(err)
		}
	}
}
