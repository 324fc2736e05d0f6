package pipeline

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// Half of A4 is 1 : 1.41 too (ISO 216), a third of it 1 : 2.12, a quarter along it 1 : 5.66.
func TestOddSheets(t *testing.T) {
	for _, c := range []struct {
		name   string
		wanted vision.Page
		page   vision.Page
		seen   float64
		says   string
	}{
		{"a whole sheet", vision.PageAuto, vision.PageA4, math.Sqrt2, ""},
		{"a third of one", vision.PageAuto, vision.PageFree, 297.0 / 3 / 210, ""},
		{"a quarter along it", vision.PageAuto, vision.PageFree, 297 / 52.5, "1 : 5.66, which is narrower than usual paper"},
		{"on its side", vision.PageAuto, vision.PageFree, 52.5 / 297, "1 : 5.66"},
		{"asked for", vision.PageFree, vision.PageFree, 5.66, ""},
		{"what was asked for", vision.PageA4, vision.PageA4, 1.5, ""},
		{"not what was asked for", vision.PageA4, vision.PageA4, 3.2, "1 : 3.20, which is not A4's 1 : 1.41"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := SheetFound{Wanted: c.wanted, Sheet: vision.Sheet{Found: true, Page: c.page, Seen: c.seen, Support: 1}}
			f.Corners[1].X, f.Corners[2].X = 1000, 1000
			var rep stage.Report
			judgeSheet(&rep, f, false, false)
			if c.says == "" {
				assert.Greater(t, rep.Confidence.Sure, 0.9)
				return
			}
			assert.Less(t, rep.Confidence.Sure, 0.5)
			assert.Contains(t, rep.Confidence.Why, c.says)
		})
	}
	f := SheetFound{Sheet: vision.Sheet{Found: true, Page: vision.PageA4, Seen: 1.4, Support: 1, Cut: true}}
	f.Corners[1].X, f.Corners[2].X = 1000, 1000
	var rep stage.Report
	judgeSheet(&rep, f, false, false)
	assert.Contains(t, rep.Confidence.Why, "its edges go on beyond a side")
}
