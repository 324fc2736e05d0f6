package specimen

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"math"

	"gocv.io/x/gocv"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
	"inkchannel/vision/turbo"
)

// A View is where the camera stands, how the light falls and what the camera
// adds.
type View struct {
	Name     string
	Width    int     // px, longer side of the photo
	Tilt     float64 // degrees between the camera's axis and straight down
	Azimuth  float64 // degrees, which way the camera leans
	Roll     float64 // degrees the sheet lies turned on the table
	Fill     float64 // share of the photo's height or width the sheet takes
	Blur     float64 // px, standard deviation of the lens's blur
	Gradient float64 // how much darker one side is than the other, 0 to 1
	Vignette float64 // how much darker the corners are than the middle, 0 to 1
	Shadow   float64 // how much light a cast shadow takes, 0 to 1
	Penumbra float64 // px, softness of the shadow's edge
	Warmth   float64 // how much blue the lamp lacks, 0 to 1
	Exposure float64 // brightness of white paper, 0 to 1
	Noise    float64 // standard deviation of the sensor's noise, grey levels
	Quality  int     // JPEG quality
	Turned   bool    // stored a quarter turn off, with the EXIF tag that says so
	Curl     float64 // mm that two opposite edges of the sheet lift off the table
	K1, K2   float64 // the lens's radial distortion: D. C. Brown's model, in focal lengths from the middle
	Seed     int64
}

// PlainViews are the three views of the plain set: from above, a little
// tilted, and tilted with a cast shadow and the sheet askew.
func PlainViews() []View {
	base := View{
		Width: 4000, Fill: 0.88, Blur: 1.1, Gradient: 0.12, Vignette: 0.12,
		Penumbra: 40, Exposure: 0.9, Noise: 3, Quality: 92, Seed: 1,
	}
	above, tilted, shade := base, base, base
	above.Name, above.Roll = "above", 1.5
	tilted.Name, tilted.Tilt, tilted.Azimuth, tilted.Roll, tilted.Turned = "tilted", 14, 70, -3, true
	shade.Name, shade.Tilt, shade.Azimuth, shade.Roll, shade.Shadow, shade.Warmth = "shade", 20, 200, 6, 0.35, 0.15
	return []View{above, tilted, shade}
}

// A Photo is a photograph with what is known of it.
type Photo struct {
	JPEG  []byte
	Truth Truth
}

// A Truth is what a photograph shows.
type Truth struct {
	Drawing string          `json:"drawing"`
	View    string          `json:"view"`
	Sheet   geom.Point      `json:"sheet"`   // mm
	Corners [4]geom.Point   `json:"corners"` // px in the upright photo: top left, then clockwise
	Dots    [2]geom.Point   `json:"dots"`    // mm on the sheet
	DotsPx  [2]geom.Point   `json:"dotsPx"`  // px in the upright photo
	Strokes []geom.Polyline `json:"strokes"` // mm on the sheet
	Pen     float64         `json:"pen"`     // mm
	Want    geom.Topology   `json:"want"`
}

// sheetRes is the resolution the sheet is drawn at, px per mm.
const sheetRes = 14

// An Inking is a drawing with the ink laid on its sheet, to be photographed
// many times.
type Inking struct {
	Drawing
	ink, who []uint8
	want     geom.Topology
}

// Ink draws d.
func Ink(d Drawing, seed int64) Inking {
	ink, who := coverage(d, int(d.Sheet.X*sheetRes+0.5), int(d.Sheet.Y*sheetRes+0.5), sheetRes, seed)
	return Inking{Drawing: d, ink: ink, who: who, want: Inked(d.Strokes, d.PenWidth).Topology()}
}

// Take photographs d drawn on p as v sees it.
func Take(d Drawing, p Paper, v View) (Photo, error) { return Ink(d, v.Seed).Take(p, v) }

// Take photographs the drawing on p as v sees it.
func (d Inking) Take(p Paper, v View) (Photo, error) { return d.On(p, v.Seed).Take(v) }

// A Leaf is a drawing on its paper.
type Leaf struct {
	Inking
	seen bgr // square from above
}

// On lays the drawing on p, whose grain is of the seed.
func (d Inking) On(p Paper, seed int64) Leaf { return Leaf{d, p.render(d, sheetRes, seed)} }

// Take photographs the leaf as v sees it.
func (d Leaf) Take(v View) (Photo, error) {
	w, h := v.Width, v.Width*3/4
	if d.Sheet.Y > d.Sheet.X {
		w, h = h, w
	}
	cam := v.camera(d.Sheet, w, h)
	img, err := v.expose(d.seen, cam, d.Sheet, w, h)
	if err != nil {
		return Photo{}, err
	}
	data, err := v.encode(img)
	if err != nil {
		return Photo{}, err
	}
	t := Truth{
		Drawing: d.Name, View: v.Name, Sheet: d.Sheet, Dots: d.Dots,
		Strokes: d.Strokes, Pen: d.PenWidth, Want: d.want,
	}
	bent := v.bent(d.Sheet)
	for i, c := range []geom.Point{{}, {X: d.Sheet.X}, d.Sheet, {Y: d.Sheet.Y}} {
		t.Corners[i] = v.lens(cam.see(bent(c)), w, h)
	}
	for i, c := range d.Dots {
		t.DotsPx[i] = v.lens(cam.see(bent(c)), w, h)
	}
	return Photo{data, t}, nil
}

// focal is the focal length, px: that of a phone's main lens, 26 mm on the 36 mm of
// full frame (common practice, no source).
func focal(w, h int) float64 { return 26.0 / 36 * float64(max(w, h)) }

// lens is where a pinhole's place in the photo is seen through the lens (Brown 1966,
// "Decentering distortion of lenses", from memory; its radial part).
func (v View) lens(p geom.Point, w, h int) geom.Point {
	mid := geom.Pt(float64(w)/2, float64(h)/2)
	d := p.Sub(mid)
	r2 := d.Dot(d) / (focal(w, h) * focal(w, h))
	return mid.Add(d.Mul(1 + v.K1*r2 + v.K2*r2*r2))
}

// pinholed is the reverse of lens.
func (v View) pinholed(q geom.Point, w, h int) geom.Point {
	p := q
	for range 12 { // each step mends most of what is left
		p = p.Add(q.Sub(v.lens(p, w, h)))
	}
	return p
}

// A homography maps the sheet's plane (mm) to the photo's (px), row by row.
type homography [9]float64

func (m homography) apply(p geom.Point) geom.Point {
	z := m[6]*p.X + m[7]*p.Y + m[8]
	return geom.Pt((m[0]*p.X+m[1]*p.Y+m[2])/z, (m[3]*p.X+m[4]*p.Y+m[5])/z)
}

// A camera maps the space over the sheet (mm, z up) to the photo (px): the
// images, in homogeneous px, of the unit vectors and of the sheet's corner.
type camera struct{ ex, ey, ez, o [3]float64 }

// at is the homography of the plane z mm over the table.
func (c camera) at(z float64) homography {
	var m homography
	for k := range 3 {
		m[3*k], m[3*k+1], m[3*k+2] = c.ex[k], c.ey[k], c.o[k]+z*c.ez[k]
	}
	return m
}

// see is where the camera sees a place, p on the sheet's plane and z over it.
func (c camera) see(p geom.Point, z float64) geom.Point { return c.at(z).apply(p) }

// camera is a pinhole camera aimed at the sheet's middle, as far off as lets
// the whole sheet fill the wanted share of the frame.
func (v View) camera(sheet geom.Point, w, h int) camera {
	f := focal(w, h)
	at := func(dist float64) camera {
		sinR, cosR := math.Sincos(geom.Radians(v.Roll))
		sinA, cosA := math.Sincos(geom.Radians(v.Azimuth))
		sinT, cosT := math.Sincos(geom.Radians(v.Tilt))
		// Images of directions on the sheet after roll, then tilt about the
		// axis that lies at the azimuth.
		axis := func(x, y float64) [3]float64 {
			x, y = x*cosR-y*sinR, x*sinR+y*cosR
			along, across := x*cosA+y*sinA, -x*sinA+y*cosA
			across, z := across*cosT, across*sinT
			return [3]float64{along*cosA - across*sinA, along*sinA + across*cosA, z}
		}
		ex, ey, o := axis(1, 0), axis(0, 1), axis(-sheet.X/2, -sheet.Y/2)
		o[2] += dist
		// Up from the table is towards the camera: the cross product that has
		// the least depth.
		ez := [3]float64{-(ex[1]*ey[2] - ex[2]*ey[1]), -(ex[2]*ey[0] - ex[0]*ey[2]), -(ex[0]*ey[1] - ex[1]*ey[0])}
		px := func(c [3]float64) [3]float64 {
			return [3]float64{f*c[0] + float64(w)/2*c[2], f*c[1] + float64(h)/2*c[2], c[2]}
		}
		return camera{ex: px(ex), ey: px(ey), ez: px(ez), o: px(o)}
	}
	lo, hi := 50.0, 5000.0
	for range 60 {
		mid := (lo + hi) / 2
		if v.fits(at(mid).at(0), sheet, w, h) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return at(hi)
}

// bent tells where a place of the sheet lies once its edges lift: along x the
// sheet is a parabola, flat in the middle; what it rises it draws in.
func (v View) bent(sheet geom.Point) func(p geom.Point) (geom.Point, float64) {
	return func(p geom.Point) (geom.Point, float64) {
		u := 2*p.X/sheet.X - 1
		// The slope is 4Cu/L; half its square, integrated from the middle.
		in := 4 * v.Curl * v.Curl / (3 * sheet.X) * u * u * u
		return geom.Pt(p.X-in, p.Y), v.Curl * u * u
	}
}

// unbent finds the place of the bent sheet that the camera sees at q.
func (v View) unbent(cam camera, sheet geom.Point, q geom.Point) geom.Point {
	bent := v.bent(sheet)
	p := cam.at(0).inverse().apply(q)
	for range 8 {
		// A step of Newton's with the flat sheet's slopes.
		flat, z := bent(p)
		got := cam.see(flat, z)
		h := cam.at(z)
		p = p.Add(h.inverse().apply(q).Sub(h.inverse().apply(got)))
	}
	return p
}

// inverse of the homography, but for a factor.
func (m homography) inverse() homography {
	return homography{
		m[4]*m[8] - m[5]*m[7], m[2]*m[7] - m[1]*m[8], m[1]*m[5] - m[2]*m[4],
		m[5]*m[6] - m[3]*m[8], m[0]*m[8] - m[2]*m[6], m[2]*m[3] - m[0]*m[5],
		m[3]*m[7] - m[4]*m[6], m[1]*m[6] - m[0]*m[7], m[0]*m[4] - m[1]*m[3],
	}
}

func (v View) fits(m homography, sheet geom.Point, w, h int) bool {
	for _, c := range []geom.Point{{}, {X: sheet.X}, sheet, {Y: sheet.Y}} {
		if m[6]*c.X+m[7]*c.Y+m[8] <= 0 {
			return false
		}
		p := m.apply(c)
		if math.Abs(p.X/float64(w)-0.5) > v.Fill/2 || math.Abs(p.Y/float64(h)-0.5) > v.Fill/2 {
			return false
		}
	}
	return true
}

// expose lays the sheet on a wooden table, lights it and takes the picture.
func (v View) expose(sheet bgr, cam camera, size geom.Point, w, h int) (bgr, error) {
	src, err := gocv.NewMatFromBytes(sheet.h, sheet.w, gocv.MatTypeCV8UC3, sheet.pix)
	if err != nil {
		return bgr{}, err
	}
	defer src.Close()
	white := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(255, 0, 0, 0), sheet.h, sheet.w, gocv.MatTypeCV8U)
	defer white.Close()
	dst, cover := gocv.NewMat(), gocv.NewMat()
	defer dst.Close()
	defer cover.Close()
	if v.Curl == 0 && v.K1 == 0 && v.K2 == 0 {
		project(src, white, &dst, &cover, cam.at(0), w, h)
	} else if err := v.projectBent(src, white, &dst, &cover, cam, size, w, h); err != nil {
		return bgr{}, err
	}
	pix, err := dst.DataPtrUint8()
	if err != nil {
		return bgr{}, err
	}
	mask, err := cover.DataPtrUint8()
	if err != nil {
		return bgr{}, err
	}
	v.light(pix, mask, w, h)
	gocv.GaussianBlur(dst, &dst, image.Pt(0, 0), v.Blur, v.Blur, gocv.BorderReflect101)
	if pix, err = dst.DataPtrUint8(); err != nil {
		return bgr{}, err
	}
	res := bgr{w, h, append([]uint8(nil), pix...)}
	v.noise(res)
	return res, nil
}

// sheetToPhoto is a homography from mm to px as OpenCV takes it, from px of the drawn sheet.
func sheetToPhoto(hm homography) gocv.Mat {
	m := gocv.NewMatWithSize(3, 3, gocv.MatTypeCV64F)
	defer m.Close()
	for i, e := range hm {
		if i%3 < 2 { // from mm to px of the drawn sheet
			e /= sheetRes
		}
		m.SetDoubleAt(i/3, i%3, e)
	}
	// OpenCV puts pixel centres at whole numbers, we at halves.
	shift := func(d float64) gocv.Mat {
		s := gocv.Eye(3, 3, gocv.MatTypeCV64F)
		s.SetDoubleAt(0, 2, d)
		s.SetDoubleAt(1, 2, d)
		return s
	}
	in, out := shift(0.5), shift(-0.5)
	defer in.Close()
	defer out.Close()
	full := out.MultiplyMatrix(m)
	defer full.Close()
	return full.MultiplyMatrix(in)
}

// project warps the flat sheet and its cover as a homography says.
func project(src, white gocv.Mat, dst, cover *gocv.Mat, hm homography, w, h int) {
	m := sheetToPhoto(hm)
	defer m.Close()
	gocv.WarpPerspectiveWithParams(
		src, dst, m, image.Pt(w, h), gocv.InterpolationLinear, gocv.BorderReplicate, color.RGBA{},
	)
	gocv.WarpPerspective(white, cover, m, image.Pt(w, h))
}

// projectBent warps the curled sheet: where each pixel looks is found at every
// eighth and interpolated between.
func (v View) projectBent(src, white gocv.Mat, dst, cover *gocv.Mat, cam camera, size geom.Point, w, h int) error {
	const step = 8
	gw, gh := w/step+2, h/step+2
	mx, my := gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F), gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F)
	defer mx.Close()
	defer my.Close()
	px, err := mx.DataPtrFloat32()
	if err != nil {
		return err
	}
	py, err := my.DataPtrFloat32()
	if err != nil {
		return err
	}
	grid := make([]geom.Point, gw*gh)
	parallel.Bands(gh, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range gw {
				p := v.unbent(cam, size, v.pinholed(geom.Pt(float64(x*step)+0.5, float64(y*step)+0.5), w, h))
				grid[y*gw+x] = p.Mul(sheetRes).Sub(geom.Pt(0.5, 0.5))
			}
		}
	})
	parallel.Bands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			j, ty := y/step, float64(y%step)/step
			for x := range w {
				i, tx := x/step, float64(x%step)/step
				a := grid[j*gw+i].Lerp(grid[j*gw+i+1], tx)
				b := grid[(j+1)*gw+i].Lerp(grid[(j+1)*gw+i+1], tx)
				q := a.Lerp(b, ty)
				px[y*w+x], py[y*w+x] = float32(q.X), float32(q.Y)
			}
		}
	})
	gocv.Remap(src, dst, &mx, &my, gocv.InterpolationLinear, gocv.BorderReplicate, color.RGBA{})
	gocv.Remap(white, cover, &mx, &my, gocv.InterpolationLinear, gocv.BorderConstant, color.RGBA{})
	return nil
}

// light puts the table under the sheet and shades the scene.
func (v View) light(pix, mask []uint8, w, h int) {
	wood := normals(v.Seed + 7)
	diag := math.Hypot(float64(w), float64(h)) / 2
	wave := make([]float64, w) // of the grain, along a row
	for x := range wave {
		wave[x] = 3 * math.Sin((float64(x)-float64(w)/2)/900)
	}
	parallel.Bands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range w {
				i := y*w + x
				fx, fy := float64(x)-float64(w)/2, float64(y)-float64(h)/2
				u := fx*0.8 + fy*0.6
				l := v.Exposure * (1 - v.Gradient*(0.5+u/(2*diag)))
				l *= 1 - v.Vignette*(fx*fx+fy*fy)/(diag*diag)
				if v.Shadow > 0 { // its edge runs askew across the sheet
					edge := (fx*0.9 - fy*0.45 - 0.12*diag) / max(v.Penumbra, 1)
					l *= 1 - v.Shadow/(1+math.Exp(-edge))
				}
				c := float64(mask[i]) / 255
				var table [3]float64
				if c < 1 {
					grain := 12*math.Sin(
						fy/23+wave[x]+2*math.Sin(fx/310+fy/170),
					) + 5*float64(
						wood[(x/40*31+y*131)&0xffff],
					)
					table = [3]float64{78 + grain, 104 + grain, 138 + grain}
				}
				warm := [3]float64{1 - v.Warmth, 1 - v.Warmth*0.35, 1}
				for k := range 3 {
					p := float64(pix[3*i+k])*c + table[k]*(1-c)
					pix[3*i+k] = level(p*l*warm[k]*1.05 + 0.5)
				}
			}
		}
	})
}

func (v View) noise(img bgr) {
	table := normals(v.Seed + 11)
	parallel.Bands(img.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			rng := uint32(v.Seed)*747796405 + uint32(y)*2891336453 + 1
			row := img.pix[3*y*img.w : 3*(y+1)*img.w]
			for i, p := range row {
				rng = rng*1664525 + 1013904223
				n := v.Noise * (0.5 + 0.5*float64(p)/255) * float64(table[rng>>16])
				row[i] = level(float64(p) + n + 0.5)
			}
		}
	})
}

// encode writes the JPEG, with an EXIF orientation of 6 (turn a quarter
// clockwise to see it upright) where the camera was held turned.
func (v View) encode(img bgr) ([]byte, error) {
	pix, w, h := img.pix, img.w, img.h
	if v.Turned {
		m, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC3, pix)
		if err != nil {
			return nil, err
		}
		defer m.Close()
		gocv.Rotate(m, &m, gocv.Rotate90CounterClockwise)
		if pix, err = m.DataPtrUint8(); err != nil {
			return nil, err
		}
		w, h = h, w
	}
	data, err := turbo.Encode(pix, w, h, 3*w, turbo.BGR, v.Quality)
	if err != nil {
		return nil, err
	}
	if v.Turned {
		return WithOrientation(data, 6)
	}
	return data, nil
}

// WithOrientation returns the JPEG with an EXIF block (CIPA DC-008, from
// memory) that holds the orientation tag alone, put right after the start of
// image marker.
func WithOrientation(jpeg []byte, orientation uint16) ([]byte, error) {
	if len(jpeg) < 2 || jpeg[0] != 0xff || jpeg[1] != 0xd8 {
		return nil, fmt.Errorf("not a JPEG")
	}
	var tiff bytes.Buffer
	tiff.WriteString("MM\x00\x2a")
	for _, v := range []any{uint32(8), uint16(1), uint16(0x0112), uint16(3), uint32(1), orientation, uint16(0), uint32(0)} {
		_ = binary.Write(&tiff, binary.BigEndian, v) // a Buffer takes all
	}
	var out bytes.Buffer
	out.Write([]byte{0xff, 0xd8, 0xff, 0xe1})
	_ = binary.Write(&out, binary.BigEndian, uint16(2+6+tiff.Len()))
	out.WriteString("Exif\x00\x00")
	out.Write(tiff.Bytes())
	out.Write(jpeg[2:])
	return out.Bytes(), nil
}
