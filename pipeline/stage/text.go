package stage

import "fmt"

// Count is a number with the word for one or for many: "1 bed", "2 beds".
func Count(n int, one, many string) string { return fmt.Sprintf("%d %s", n, Plural(n, one, many)) }

// Plural is the word for one or for many.
func Plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
