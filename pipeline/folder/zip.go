package folder

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
)

// Zip writes files as a ZIP archive, the same for the same files.
func Zip(to io.Writer, files []File) error {
	z := zip.NewWriter(to)
	for _, f := range files {
		w, err := z.Create(f.Name)
		if err == nil {
			_, err = w.Write(f.Data)
		}
		if err != nil {
			return err
		}
	}
	return z.Close()
}

// Unzip reads what Zip wrote, of at most most bytes in all. It returns an error for anything else.
func Unzip(data []byte, most int64) ([]File, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("not a ZIP archive: %w", err)
	}
	var out []File
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			return nil, err
		}
		text, err := io.ReadAll(io.LimitReader(r, most+1))
		if err != nil {
			return nil, err
		}
		if most -= int64(len(text)); most < 0 {
			return nil, fmt.Errorf("the archive holds too much")
		}
		out = append(out, File{Name: f.Name, Data: text})
	}
	return out, nil
}
