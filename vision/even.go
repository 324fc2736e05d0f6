package vision

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"inkchannel/geom/parallel"
)

// How the paper's brightness is worked out; in px but for
// brightness and shares.
const (
	leastPaper  = 8 // of 255: darker paper is evened as if so bright, as noise would be blown up
	markRim     = 1 // by which stretches that hold marks are widened all round
	leastKernel = 3 // side of the closing's kernel at least: less does nothing
	paperBlur   = 3 // side of the kernel that takes off noise, which the closing would pick the peaks of
	// paperSmooth is by what share smoothing makes the paper lighter at most: by more there is the edge of
	// a shadow, beside which paper would be taken for ink.
	paperSmooth = 0.06
)

// An evened picture is a sheet with its lighting evened out: evenWhite where
// the paper is blank, darker where it is marked.
type evened struct {
	*Grey
	// marks are the stretches where something dark may be, for each two rows;
	// beyond them nothing was worked out.
	marks [][]stretch
}

// marked are the stretches of row y where something dark may be.
func (e *evened) marked(y int) []stretch { return e.marks[min(y/2, len(e.marks)-1)] }

// blank is how much darker than the paper around, as a share of what counts as
// ink, two by two pixels may be on average and still be blank paper. A hair of
// faint ink one pixel wide makes more.
const blank = 1.0 / 3

// evenLight divides each channel by the brightness of the paper around, and
// keeps the darkest channel. Most of a drawing is blank, so the full picture is
// only looked at where a copy of half its size shows anything that is darker by a
// share of dark; all of it if that is 0.
func evenLight(sheet *Colour, pxPerMm float64, s InkSettings, dark float64) (*evened, error) {
	half, err := sheet.halved()
	if err != nil {
		return nil, err
	}
	paper, err := paperLight(sheet, half, pxPerMm, s.Window)
	if err != nil {
		return nil, err
	}
	if err := checkLight(half, paper); err != nil {
		return nil, err
	}
	out := &evened{Grey: NewGrey(sheet.W, sheet.H)}
	if dark > 0 {
		if out.marks, err = marksOf(half, paper, sheet.W, dark); err != nil {
			return nil, err
		}
	} else {
		out.marks = [][]stretch{{{x0: 0, x1: sheet.W}}}
	}
	l := newLighting(paper, sheet.W, sheet.H)
	parallel.Bands(sheet.H, func(y0, y1 int) {
		row := make([]float32, 3*paper.W)
		var soft []uint16
		for y := y0; y < y1; y++ {
			to := out.Pix[y*sheet.W : (y+1)*sheet.W]
			for _, r := range out.marked(y) {
				l.row(row, y, r)
				soft = sheet.softened(soft, y, r)
				for x := r.x0; x < r.x1; x++ {
					q, in := l.xs[x], soft[3*(x-r.x0):]
					i, j := 3*q.i, 3*q.j
					v0 := float32(in[0]) * (row[i] + (row[j]-row[i])*q.t)
					v1 := float32(in[1]) * (row[i+1] + (row[j+1]-row[i+1])*q.t)
					v2 := float32(in[2]) * (row[i+2] + (row[j+2]-row[i+2])*q.t)
					to[x] = uint8(min(v0, v1, v2, 255))
				}
			}
		}
	})
	return out, nil
}

// softened is a stretch of row y with the noise taken off by the binomial
// kernel 1 2 1 both ways. It writes into buf if that is large enough.
func (c *Colour) softened(buf []uint16, y int, r stretch) []uint16 {
	n := 3 * (r.x1 - r.x0)
	if cap(buf) < 2*n+6 {
		buf = make([]uint16, 4*n+6)
	}
	sums := buf[n : 2*n+6] // down the columns, with one more on either side
	row := func(y int) []uint8 { y = min(max(y, 0), c.H-1); return c.Pix[3*y*c.W : 3*(y+1)*c.W] }
	up, mid, down := row(y-1), row(y), row(y+1)
	from, to := max(3*r.x0-3, 0), min(3*r.x1+3, 3*c.W)
	at := sums[from-(3*r.x0-3):]
	for i := from; i < to; i++ {
		at[i-from] = uint16(up[i]) + 2*uint16(mid[i]) + uint16(down[i])
	}
	if r.x0 == 0 {
		copy(sums, sums[3:6])
	}
	if r.x1 == c.W {
		copy(sums[n+3:], sums[n:n+3])
	}
	out := buf[:n]
	for i := range out {
		out[i] = (sums[i] + 2*sums[i+3] + sums[i+6] + 8) >> 4
	}
	return out
}

// marksOf finds, in a copy of half the size, what is a share of dark darker than
// the paper, and returns the stretches of it, a pixel wider all round, in px of
// the full picture of w px across.
func marksOf(half, paper *Colour, w int, dark float64) ([][]stretch, error) {
	marked := NewBitmap(half.W, half.H)
	least := make([]uint8, len(paper.Pix))
	for i, v := range paper.Pix {
		least[i] = uint8(math.Ceil((1 - dark) * float64(v)))
	}
	at := make([]int, half.W) // the paper's nearest sample; its light changes slowly
	for x := range at {
		at[x] = 3 * (x * paper.W / half.W)
	}
	parallel.Bands(half.H, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			in, to := half.Pix[3*y*half.W:3*(y+1)*half.W], marked.Pix[y*half.W:(y+1)*half.W]
			row := least[3*paper.W*(y*paper.H/half.H):]
			for x, i := range at {
				p, q := in[3*x:3*x+3], row[i:i+3]
				if p[0] < q[0] || p[1] < q[1] || p[2] < q[2] {
					to[x] = 1
				}
			}
		}
	})
	src, m := marked.mat(), gocv.NewMat()
	defer src.Close()
	defer m.Close()
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(2*markRim+1, 2*markRim+1))
	defer kernel.Close()
	gocv.Dilate(src, &m, kernel)
	pix, err := m.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	marks := make([][]stretch, half.H)
	parallel.Bands(half.H, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			runs := runsOf(pix[y*half.W:(y+1)*half.W], y, 1)
			for i := range runs {
				r := &runs[i]
				if r.x0, r.x1 = 2*r.x0, 2*r.x1; r.x1 == 2*half.W {
					r.x1 = w
				}
			}
			marks[y] = runs
		}
	})
	return marks, nil
}

// halved is the image at half its size, less an odd last column or row.
func (c *Colour) halved() (*Colour, error) {
	size := image.Pt(max(c.W/2, 1), max(c.H/2, 1))
	return c.into(size.X, size.Y, func(src gocv.Mat, dst *gocv.Mat) {
		even := src.Region(image.Rect(0, 0, min(2*size.X, c.W), min(2*size.Y, c.H)))
		defer even.Close()
		gocv.Resize(even, dst, size, 0, 0, gocv.InterpolationArea)
	})
}

// A lighting tells by what to multiply a picture's channels to even them out.
type lighting struct {
	inv    []float32 // for the paper's samples
	w      int       // samples in a row
	xs, ys []lerp
}

// newLighting is the lighting of a picture of w by h px whose paper looks like
// the given one, which may be smaller.
func newLighting(paper *Colour, w, h int) *lighting {
	l := &lighting{inv: make([]float32, len(paper.Pix)), w: paper.W, xs: make([]lerp, w), ys: make([]lerp, h)}
	var table [256]float32
	for v := range table {
		table[v] = evenWhite / float32(max(v, leastPaper))
	}
	for i, v := range paper.Pix {
		l.inv[i] = table[v]
	}
	for x := range l.xs {
		l.xs[x] = lerpAt(x, float64(w)/float64(paper.W), paper.W)
	}
	for y := range l.ys {
		l.ys[y] = lerpAt(y, float64(h)/float64(paper.H), paper.H)
	}
	return l
}

// row fills in the paper's samples for a stretch of the picture's row y.
func (l *lighting) row(to []float32, y int, r stretch) {
	q := l.ys[y]
	lo, hi := 3*l.xs[r.x0].i, 3*(l.xs[r.x1-1].j+1)
	a, b := l.inv[3*l.w*q.i+lo:3*l.w*q.i+hi], l.inv[3*l.w*q.j+lo:]
	to = to[lo:hi]
	for i, v := range a {
		to[i] = v + (b[i]-v)*q.t
	}
}

// A lerp is a place between samples i and j, t of the way.
type lerp struct {
	i, j int
	t    float32
}

// lerpAt places pixel x on a grid of n samples that each cover step pixels.
func lerpAt(x int, step float64, n int) lerp {
	f := (float64(x)+0.5)/step - 0.5
	i := int(math.Floor(f))
	t := float32(f - float64(i))
	return lerp{min(max(i, 0), n-1), min(max(i+1, 0), n-1), t}
}

// leastSamples is how many samples a mm the paper's brightness needs at least.
const leastSamples = 2

// paperLight is the brightness of the bare paper: a closing (the least of the
// greatest) over the window, which lines thinner than it do not survive but the
// edge of a shadow does. It is worked out on a copy of the sheet halved while
// that keeps enough samples a mm; half is the first such copy.
func paperLight(sheet, half *Colour, pxPerMm, window float64) (*Colour, error) {
	small := sheet
	for ; pxPerMm >= 2*leastSamples; pxPerMm /= 2 {
		if small == sheet {
			small = half
			continue
		}
		less, err := small.halved()
		if err != nil {
			return nil, err
		}
		small = less
	}
	size := max(int(window*pxPerMm)|1, leastKernel)
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(size, size))
	defer kernel.Close()
	clean, err := small.into(small.W, small.H, func(src gocv.Mat, dst *gocv.Mat) {
		gocv.GaussianBlur(src, dst, image.Pt(paperBlur, paperBlur), 0, 0, gocv.BorderReplicate)
	})
	if err != nil {
		return nil, err
	}
	paper, err := clean.into(small.W, small.H, func(src gocv.Mat, dst *gocv.Mat) {
		gocv.MorphologyExWithParams(src, dst, gocv.MorphClose, kernel, 1, gocv.BorderReplicate)
	})
	if err != nil {
		return nil, err
	}
	shade(clean, paper, pxPerMm, size)
	soft := 2*(size/4) + 1
	return paper.into(small.W, small.H, func(src gocv.Mat, dst *gocv.Mat) {
		most := src.Clone()
		defer most.Close()
		most.MultiplyFloat(1 + paperSmooth)
		gocv.Blur(src, dst, image.Pt(soft, soft))
		gocv.Min(*dst, most, dst)
	})
}
