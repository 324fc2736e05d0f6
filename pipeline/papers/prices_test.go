package papers

import (
	"encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom/bed"
	"inkchannel/pipeline"
)

func TestReadPrices(t *testing.T) {
	p, err := ReadPrices(ExamplePrices())
	require.NoError(t, err)
	assert.Equal(t, "EUR", p.Currency)
	for _, k := range priced {
		assert.Contains(t, p.of, k, "the example names every key")
	}
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "no price"},
		{"no list", "- a\n", "line 1: expected prices"},
		{"no YAML", "strip: [\n", "line 1 is not valid YAML"},
		{"unknown", "strip: 9\n\nlamps: 3\n", `line 3: nothing here is called "lamps"`},
		{"twice", "strip: 9\nwire: 1\nstrip: 8\n", "already defined"},
		{"no number", "strip: nine\n", `line 1: strip "nine" is not a price from 0 to 1000000, with a point, as 22.5`},
		{"negative", "strip: -1\n", `"-1"`},
		{"not a number", "strip: NaN\n", `"NaN"`},
		{"slip", "strip: 10000000\n", "is not a price"},
		{"currency", "currency: a long story\n", "no short name"},
		{"two currencies", "currency: [a, b]\nplastic: 20\n", "line 1: currency takes one value"},
		{"a price in parts", "plastic:\n  black: 20\n", "line 1: plastic takes one value"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ReadPrices([]byte(c.text))
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
}

// Sums by hand: 250 g at 20, 12 h at 0.5 and nothing else on the list.
func TestPrice(t *testing.T) {
	p, err := ReadPrices([]byte("currency: X\nplastic: 20\nprinting: 0.5\nsupply: 0\n"))
	require.NoError(t, err)
	var in ListIn
	for range 2 {
		in.Beds.Prints = append(in.Beds.Prints, pipeline.Print{Estimate: bed.Estimate{Grams: 125, Seconds: 6 * 3600}})
	}
	got := PriceOf(in, p)
	assert.InDelta(t, 5+6, got.Total, 1e-9)
	assert.Positive(t, got.Unknown)
	data, err := PriceCSV(got, p.Currency)
	require.NoError(t, err)
	rows, err := csv.NewReader(strings.NewReader(string(data))).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, []string{"plastic", "of all that is printed, the test piece too, as estimated", "0.25", "kg", "20", "5.00", "X"}, rows[1])
	assert.Equal(t, []string{"printing", "of the same", "12", "h", "0.5", "6.00", "X"}, rows[2])
	last := rows[len(rows)-1]
	assert.Equal(t, "11.00", last[5])
	assert.Contains(t, last[1], "no price for")
	for _, r := range rows[1:] {
		switch r[0] {
		case "power supply":
			assert.Equal(t, "0.00", r[5], "free is not unknown")
		case "solder and heat-shrink sleeve":
			assert.Empty(t, r[5])
		}
	}
}

func FuzzReadPrices(f *testing.F) {
	f.Add(ExamplePrices())
	f.Add([]byte("currency: €\nstrip: 1e3 # a note\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ReadPrices(data)
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			return
		}
		for k, v := range p.of {
			assert.True(t, v >= 0 && v <= mostPrice, k)
		}
	})
}
