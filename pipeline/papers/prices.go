package papers

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"inkchannel/pipeline/yaml"
)

//go:embed prices.yaml
var examplePrices []byte

// ExamplePrices returns a price list to copy and change.
func ExamplePrices() []byte { return slices.Clone(examplePrices) }

// Prices are what things cost: each by its key, for each kg, hour, m or piece.
type Prices struct {
	Currency string
	Text     []byte // as it was read
	of       map[string]float64
}

// priced are the keys of a price list, in order.
var priced = []string{
	keyPlastic, keyPrinting, keyStrip, keyWire, keySupply, keyFuse, keyController, keyConnector, keyGlue, keyTape, keySolder, keyScrew,
	keyPlug, keyPad, keyTie,
}

// mostPrice bounds a price, so that a slip of the pen is told.
const mostPrice = 1e6

// ReadPrices reads a price list from YAML, as the example is written. Errors name the line and say what
// it takes.
func ReadPrices(data []byte) (Prices, error) {
	bodies, err := yaml.Parse(data)
	if err != nil {
		return Prices{}, err
	}
	p := Prices{Text: data, of: map[string]float64{}}
	for _, body := range bodies {
		m, ok := body.(*ast.MappingNode)
		if !ok {
			return Prices{}, fmt.Errorf("line %d: expected prices, as plastic: 22", yaml.Line(body))
		}
		for _, v := range m.Values {
			if _, plain := v.Value.(ast.ScalarNode); !plain {
				return Prices{}, fmt.Errorf("line %d: %s takes one value, as 22.5", yaml.Line(v.Key), v.Key.GetToken().Value)
			}
			if err := p.add(v.Key.GetToken().Value, v.Value.GetToken().Value, yaml.Line(v.Key)); err != nil {
				return Prices{}, err
			}
		}
	}
	if len(p.of) == 0 {
		return Prices{}, errors.New("there is no price in it")
	}
	return p, nil
}

func (p *Prices) add(key, text string, line int) error {
	if key == "currency" {
		if p.Currency = text; len([]rune(text)) > 8 {
			return fmt.Errorf("line %d: currency %q is no short name, as EUR", line, text)
		}
		return nil
	}
	if !slices.Contains(priced, key) {
		return fmt.Errorf("line %d: nothing here is called %q; prices are for currency, %s", line, key, strings.Join(priced, ", "))
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= 0 && v <= mostPrice) {
		return fmt.Errorf("line %d: %s %q is not a price from 0 to %.0f, with a point, as 22.5", line, key, text, float64(mostPrice))
	}
	p.of[key] = v
	return nil
}

// Price is what a sign costs: each thing by the list, and how many are not on it.
type Price struct {
	Rows    []PriceRow
	Total   float64
	Unknown int
}

// A PriceRow is one thing to pay for.
type PriceRow struct {
	Item
	Each  float64 // for a unit
	Sum   float64
	Known bool
}

// PriceOf reckons what a sign costs: the plastic and hours of what is printed, and what is bought, by
// the metre and the piece.
func PriceOf(in ListIn, prices Prices) Price {
	var hours float64
	prints := slices.Concat(in.Beds.Prints, in.Beds.Extras)
	for _, p := range prints {
		hours += p.Estimate.Seconds / 3600
	}
	items := []Item{
		{What: "plastic", Detail: "of all that is printed, the test piece too, as estimated", Count: thousandths(grams(prints) / 1000), Unit: "kg", Key: keyPlastic},
		{What: "printing", Detail: "of the same", Count: math.Round(10*hours) / 10, Unit: "h", Key: keyPrinting},
	}
	for _, i := range PartsList(in, func(string) string { return "" }) {
		if i.Key != "" {
			items = append(items, i)
		}
	}
	var out Price
	for _, i := range items {
		each, known := prices.of[i.Key]
		r := PriceRow{Item: i, Each: each, Sum: math.Round(100*each*i.Count) / 100, Known: known}
		if out.Total += r.Sum; !known {
			out.Unknown++
		}
		out.Rows = append(out.Rows, r)
	}
	return out
}

// PriceCSV writes a price as CSV (RFC 4180), the total last.
func PriceCSV(p Price, currency string) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	rows := [][]string{{"what", "detail", "count", "unit", "each", "sum", "currency"}}
	for _, r := range p.Rows {
		each, sum := number(r.Each), strconv.FormatFloat(r.Sum, 'f', 2, 64)
		if !r.Known {
			each, sum = "", ""
		}
		rows = append(rows, []string{r.What, r.Detail, number(r.Count), r.Unit, each, sum, currency})
	}
	detail := ""
	if p.Unknown > 0 {
		detail = fmt.Sprintf("without %d that the price list has no price for", p.Unknown)
	}
	rows = append(rows, []string{"total", detail, "", "", "", strconv.FormatFloat(p.Total, 'f', 2, 64), currency})
	err := w.WriteAll(rows)
	return b.Bytes(), err
}
