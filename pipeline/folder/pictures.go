package folder

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"sync"

	"inkchannel/geom/parallel"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// Pictures draws the stages' pictures as the stages are finished, beside the run.
type Pictures struct {
	table stage.Table
	wg    sync.WaitGroup
	mu    sync.Mutex
	drawn []drawing // by stage
	err   error
}

// A drawing is one stage's picture in all its sizes.
type drawing struct {
	file  File
	thumb image.Image // for the contact sheet
	page  []byte      // JPEG of half its size, for the page
}

// NewPictures returns Pictures with nothing drawn.
func NewPictures(t stage.Table) *Pictures {
	return &Pictures{table: t, drawn: make([]drawing, len(t.Stages()))}
}

// Draw starts drawing what a stage of r found.
func (v *Pictures) Draw(r stage.Results, s stage.Step) {
	v.wg.Go(func() {
		i, err := v.table.Index(s.Stage)
		var d drawing
		if err == nil {
			fault := parallel.Caught(func() { d, err = v.draw(r, s.Stage) })
			if fault != nil {
				err = fmt.Errorf("%v", fault)
			}
		}
		v.mu.Lock()
		defer v.mu.Unlock()
		if err == nil {
			v.drawn[i] = d
		} else if v.err == nil {
			v.err = fmt.Errorf("picture of stage %s: %w", s.Stage, err)
		}
	})
}

func (v *Pictures) draw(r stage.Results, name string) (d drawing, err error) {
	if st, err := v.table.Stage(name); err != nil || st.Picture == nil {
		return d, err
	}
	img, err := v.table.Picture(r, name)
	if err != nil {
		return d, err
	}
	if d.file.Name, err = v.table.PictureFile(name); err != nil {
		return d, err
	}
	if d.file.Data, err = picture.Encode(img, d.file.Name); err != nil {
		return d, err
	}
	small := vision.Halved(img)
	d.thumb = picture.Fit(small, thumbW, thumbH)
	d.page, err = picture.EncodeJPEG(small)
	return d, err
}

// files waits for all pictures and returns them.
func (v *Pictures) files() ([]File, error) {
	v.wg.Wait()
	if v.err != nil {
		return nil, v.err
	}
	var out []File
	for _, d := range v.drawn {
		if d.file.Name != "" {
			out = append(out, d.file)
		}
	}
	return out, nil
}

// onPage waits for all pictures and returns a stage's for the page, as JPEG; nil if
// it has none.
func (v *Pictures) onPage(name string) []byte {
	v.wg.Wait()
	i, err := v.table.Index(name)
	if err != nil {
		return nil
	}
	return v.drawn[i].page
}

// The most a picture on the contact sheet may take, px: a third.
const thumbW, thumbH = 600, 460

// contactSheet waits for all pictures and lays them out small, in rows of four.
func (v *Pictures) contactSheet() ([]byte, error) {
	v.wg.Wait()
	const gap, across = 12, 4
	down := (len(v.drawn) + across - 1) / across
	out := image.NewRGBA(image.Rect(0, 0, across*(thumbW+gap)+gap, down*(thumbH+gap)+gap))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.RGBA{232, 230, 224, 255}), image.Point{}, draw.Src)
	for i, d := range v.drawn {
		if d.thumb == nil {
			continue
		}
		b := d.thumb.Bounds()
		at := image.Pt(gap+(i%across)*(thumbW+gap)+(thumbW-b.Dx())/2, gap+(i/across)*(thumbH+gap)+(thumbH-b.Dy())/2)
		draw.Draw(out, b.Add(at), d.thumb, b.Min, draw.Src)
	}
	return picture.Encode(out, fileContact)
}
