package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// document is a PDF of so many A4 pages with a content (ISO 32000-1), in points of 1/72 in.
func document(pages int, content string) []byte {
	var b strings.Builder
	var at []int
	object := func(format string, args ...any) {
		at = append(at, b.Len())
		fmt.Fprintf(&b, "%d 0 obj\n%s\nendobj\n", len(at), fmt.Sprintf(format, args...))
	}
	b.WriteString("%PDF-1.4\n")
	object("<< /Type /Catalog /Pages 2 0 R >>")
	var kids []string
	for i := range pages {
		kids = append(kids, fmt.Sprintf("%d 0 R", 3+2*i))
	}
	object("<< /Type /Pages /Kids [%s] /Count %d >>", strings.Join(kids, " "), pages)
	for i := range pages {
		object("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595.276 841.89] /Contents %d 0 R >>", 4+2*i)
		object("<< /Length %d >>\nstream\n%s\nendstream", len(content), content)
	}
	table := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n", len(at)+1)
	for _, a := range at {
		fmt.Fprintf(&b, "%010d 00000 n \n", a)
	}
	fmt.Fprintf(&b, "trailer << /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(at)+1, table)
	return []byte(b.String())
}

// Lines of a PDF page have their true size by the page's own units.
func TestDocument(t *testing.T) {
	dir := t.TempDir()
	const twoLines = "1 J 4 w 100 200 m 400 200 l S 150 300 m 150 600 l S" // 300 points each, with round ends
	for _, c := range []struct {
		name, why string
		data      []byte
	}{
		{"page.pdf", "", document(1, twoLines)},
		{"pages.pdf", "a PDF of 3 pages; give a file of one page", document(3, twoLines)},
		{"broken.pdf", "a PDF that cannot be read", []byte("%PDF-1.7 and no more")},
	} {
		t.Run(c.name, func(t *testing.T) {
			name := filepath.Join(dir, c.name)
			require.NoError(t, os.WriteFile(name, c.data, 0o600))
			out := filepath.Join(dir, "out")
			code, printed, problem := try(context.Background(), "make", name, "-o", out, "--scale-from", "file", "--until", "centreline", "--no-pictures")
			if c.why != "" {
				assert.NotZero(t, code)
				assert.Contains(t, problem, name+": "+c.why)
				return
			}
			require.Zero(t, code, problem)
			assert.Contains(t, printed, "scale by the file")
			// 2 * 300 points of 25.4/72 mm, to the free ends' rounding.
			length := 0.0
			_, err := fmt.Sscanf(printed[strings.Index(printed, "strokes ")+8:], "%d strokes, %f mm", new(int), &length)
			require.NoError(t, err, printed)
			assert.InDelta(t, 2*300*25.4/72, length, 1)
		})
	}
}
