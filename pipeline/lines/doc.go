// Package lines reads drawings of lines at true size: SVG 1.1 (W3C). Lengths are mm.
package lines
