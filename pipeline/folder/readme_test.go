package folder

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// README lists the files that a run writes, as the one table of them has them.
func TestReadmeListsFiles(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	var b strings.Builder
	b.WriteString("| file | what it is |\n|---|---|\n")
	for _, k := range Kinds() {
		fmt.Fprintf(&b, "| `%s` | %s |\n", k.Name, k.What)
	}
	assert.Contains(t, string(readme), b.String())
}
