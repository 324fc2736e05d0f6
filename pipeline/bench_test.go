package pipeline_test

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"testing"
	"time"

	"gocv.io/x/gocv"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
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
		_, err := run(p.JPEG, stage.Run{Settings: pipeline.DefaultSettings(), Done: func(_ stage.Results, s stage.Step) {
			total[s.Stage] += s.Took.Seconds() * 1000
		}})
		if err != nil {
			b.Fatal(err)
		}
	}
	for i, s := range pipeline.Table().Stages() {
		b.ReportMetric(total[s.Name]/float64(b.N), fmt.Sprintf("%02d_%s_ms", i+1, s.Name))
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

// field is n short strokes spread evenly over as large a square as they need:
// half of them arcs, a third of them joined by a line to the next.
func field(n int) (geom.Centreline, float64) {
	const pitch = 40.0
	across := int(math.Ceil(math.Sqrt(float64(n))))
	var cs []geom.Curve
	for i := range n {
		x, y := pitch*(float64(i%across)+0.5), pitch*(float64(i/across)+0.5)
		switch i % 6 {
		case 0, 1, 2:
			cs = append(cs, geom.Arc(geom.Pt(x, y), 12, float64(20*i), float64(20*i)+200))
		case 3, 4:
			cs = append(cs, geom.Lines(geom.Pt(x-12, y-8), geom.Pt(x+12, y+8)))
		default:
			cs = append(cs, geom.Lines(geom.Pt(x-12, y), geom.Pt(x, y+12), geom.Pt(x+pitch-12, y)))
		}
	}
	return geom.Join(cs, 0.05), pitch * float64(across)
}

// BenchmarkStrokes shows how the cost of all stages after the centreline grows
// with the number of strokes, from 10 to 1,000: ms for each stroke.
func BenchmarkStrokes(b *testing.B) {
	for _, n := range []int{10, 30, 100, 300, 1000} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			line, side := field(n)
			// A strip of little power: real wires would not carry so many lines.
			s := settings(b, "hold=none", "strip-volts=48", "strip-watts=0.5")
			total := map[string]float64{}
			b.ResetTimer()
			for range b.N {
				_, err := pipeline.RunLine(context.Background(), line, geom.Pt(side, side), stage.Run{Settings: s, Done: func(_ stage.Results, st stage.Step) {
					total[st.Stage] += st.Took.Seconds() * 1000
				}})
				if err != nil {
					b.Fatal(err)
				}
			}
			for st, ms := range total {
				b.ReportMetric(ms/float64(b.N)/float64(n), st+"_ms/stroke")
			}
		})
	}
}

// BenchmarkToChannel times a 12-megapixel photo up to the channel's solid and
// its STL, without pictures, and tells how many times as long that takes as
// OpenCV takes to decode the photo in the same run.
func BenchmarkToChannel(b *testing.B) {
	p, err := specimen.Take(specimen.Demo(), specimen.White(), specimen.DemoView())
	if err != nil {
		b.Fatal(err)
	}
	var decode time.Duration
	b.ResetTimer()
	for range b.N {
		b.StopTimer()
		start := time.Now()
		m, err := gocv.IMDecode(p.JPEG, gocv.IMReadColor)
		if err != nil {
			b.Fatal(err)
		}
		m.Close()
		decode += time.Since(start)
		b.StartTimer()
		r, err := run(p.JPEG, stage.Run{Settings: pipeline.DefaultSettings(), Until: pipeline.StageChannel})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := folder.STL(stage.Of[pipeline.ChannelFound](r).Solid, "channel"); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(decode.Seconds()*1000/float64(b.N), "decode_ms")
	b.ReportMetric(b.Elapsed().Seconds()/decode.Seconds(), "decodes")
}
