package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os/exec"
	"regexp"
	"strconv"
	"time"
)

// A page of a PDF is drawn by Poppler's programs, at so many dpi and within this time.
const (
	documentDPI  = 300
	documentTime = time.Minute
)

// isDocument tells a PDF by its first bytes (ISO 32000-1, 7.5.2).
func isDocument(data []byte) bool { return bytes.HasPrefix(data, []byte("%PDF-")) }

// asPicture is what a file holds, or the one page of a PDF as a PNG that states its resolution.
func asPicture(data []byte) ([]byte, error) {
	if !isDocument(data) {
		return data, nil
	}
	about, err := poppler(data, "pdfinfo", "-")
	if err != nil {
		return nil, err
	}
	if n := pagesOf(about); n != 1 {
		return nil, fmt.Errorf("a PDF of %d pages; give a file of one page, as pdfseparate -f 1 -l 1 makes it", n)
	}
	return poppler(data, "pdftoppm", "-png", "-singlefile", "-r", strconv.Itoa(documentDPI), "-")
}

// pagesOf is the number of pages that pdfinfo tells, 0 if it tells none.
func pagesOf(about []byte) int {
	m := regexp.MustCompile(`(?m)^Pages:\s+(\d+)$`).FindSubmatch(about)
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(string(m[1])) // digits
	return n
}

// poppler runs one of Poppler's programs on a PDF and returns what it writes.
func poppler(data []byte, program string, args ...string) ([]byte, error) {
	ctx, stop := context.WithTimeout(context.Background(), documentTime)
	defer stop()
	c := exec.CommandContext(ctx, program, args...)
	c.Stdin = bytes.NewReader(data)
	out, err := c.Output()
	switch {
	case errors.Is(err, exec.ErrNotFound):
		return nil, fmt.Errorf("a PDF needs %s: install poppler-utils, or export the page as a PNG of %d dpi", program, documentDPI)
	case ctx.Err() != nil:
		return nil, fmt.Errorf("the page takes over %.0f s to draw; export it as a PNG of %d dpi", documentTime.Seconds(), documentDPI)
	case err != nil:
		return nil, errors.New("a PDF that cannot be read; export the page again, or as a PNG")
	}
	return out, nil
}
