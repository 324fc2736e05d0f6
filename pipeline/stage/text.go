package stage

import (
	"fmt"
	"math"
	"strconv"
)

// Count is a number with the word for one or for many: "1 bed", "2 beds".
func Count(n int, one, many string) string { return fmt.Sprintf("%d %s", n, Plural(n, one, many)) }

// Plural is the word for one or for many.
func Plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// Millimetres is a length to a tenth of a millimetre, without a tenth that is none:
// "37.5 mm", "50 mm".
func Millimetres(v float64) string {
	return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) + " mm"
}
