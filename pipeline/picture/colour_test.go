package picture

import (
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Outside check: the hex colours of CSS Color Module Level 4, section 5.2 (from
// memory).
func TestParseColour(t *testing.T) {
	for text, want := range map[string]color.RGBA{
		"#00ff00": {0, 255, 0, 255}, "#663399": {102, 51, 153, 255}, "#0000ffcc": {0, 0, 255, 204},
	} {
		got, err := ParseColour(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "#", "00ff00", "#00ff0", "#00ff000", "#00gg00", "#00ff00ff00"} {
		_, err := ParseColour(text)
		assert.ErrorContains(t, err, "colour", text)
	}
}
