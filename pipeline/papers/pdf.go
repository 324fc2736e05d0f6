package papers

import (
	"bytes"
	"fmt"
	"time"

	"github.com/go-pdf/fpdf"
)

// newPDF starts a PDF whose pages are w by h mm, without a date, so that equal
// sheets are equal to the byte.
func newPDF(title string, w, h float64) *fpdf.Fpdf {
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: w, Ht: h}})
	f.SetCreationDate(time.Unix(0, 0).UTC())
	f.SetModificationDate(time.Unix(0, 0).UTC())
	f.SetCatalogSort(true)
	f.SetTitle(title, true)
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	return f
}

func pdfBytes(f *fpdf.Fpdf) ([]byte, error) {
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		return nil, fmt.Errorf("PDF: %w", err)
	}
	return b.Bytes(), nil
}
