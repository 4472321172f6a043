package webapp

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// worksOut lists the only arithmetic in the page's JavaScript, by file, as it
// stands there, and what it is for. None of it touches a figure of the trade.
var worksOut = map[string]map[string]string{
	"js/element/chart.js": {
		"part * (width - area.left - area.right)": "a part of the plot's width", "part * (height - area.top - area.bottom)": "a part of the plot's height",
		"(from + to) / 2": "the middle of a band", "label.length * 7": "whether a word fits its band",
		"at % 2": "every other band is shaded", "Math.max(0, wide)": "a band is not narrower than nothing",
	},
	"js/element/reminder.js": {
		"minutes * minute": "milliseconds", "Math.ceil(left / 1000)": "seconds", "Math.floor(seconds / 60)": "minutes of a clock", "seconds % 60": "seconds of a clock",
	},
	"js/element/quantity.js": {"(at + 1) % this.units.length": "the next unit in the list"},
	"js/exchange.js":         {"Number.parseInt(response.headers": "seconds in an HTTP header", "Math.round(sent)": "milliseconds", "Math.round(performance.now())": "milliseconds"},
	"js/offline.js":          {"15 * 60 * 1000": "milliseconds"},
	"js/opening.js":          {"7 * 24 * 3600 * 1000": "milliseconds"},
	"js/view/manual.js":      {"at % 2": "every other part of a text stands in brackets"},
	"js/view/field.js": {
		"Math.abs(offset)": "the phone's time zone", "Math.floor(away / 60)": "the phone's time zone", "away % 60": "the phone's time zone",
		"Number(at)": "the place of a part in a list",
	},
}

// TestArithmetic holds the rule that numbers are worked out in Go and shown by
// JavaScript: what makes numbers of text, multiplies, divides or calls Math
// stands in the list above, or not at all; and what stands in the list is there.
func TestArithmetic(t *testing.T) {
	// Comments, regular expressions and texts are no arithmetic; what stands in
	// ${…} of a template is.
	noise := regexp.MustCompile("(?s)/\\*.*?\\*/|(?m:(?:^|\\s)//[^\n]*$)|'(?:[^'\\\\\\n]|\\\\.)*'|\"(?:[^\"\\\\\\n]|\\\\.)*\"|(?:[(=:?]|return)\\s*/[^/*\\n](?:[^/\\\\\\n]|\\\\.)*/[a-z]*")
	template := regexp.MustCompile("`[^`]*`")
	inTemplate := regexp.MustCompile(`\$\{([^}]*)\}`)
	works := regexp.MustCompile(`\bNumber\b|\bMath\.|\bBigInt\b|parseInt|parseFloat|valueAsNumber|\bIntl\.|toLocaleString\(\d|[\w)\]]\s*(?:\*\*?|/|%)=?\s*[\w(]|[=(,?:]\s*\+\w`)
	for name, body := range sources(t, ".js") {
		body = noise.ReplaceAllString(body, " ")
		body = template.ReplaceAllStringFunc(body, func(text string) string {
			var kept []string
			for _, m := range inTemplate.FindAllStringSubmatch(text, -1) {
				kept = append(kept, "("+m[1]+")")
			}
			return strings.Join(kept, " + ")
		})
		for allowed, why := range worksOut[name] {
			assert.Contains(t, body, allowed, "%s: the list says it is there (%s)", name, why)
			body = strings.ReplaceAll(body, allowed, "")
		}
		for line := range strings.Lines(body) {
			assert.NotRegexp(t, works, strings.TrimSpace(line), "%s: figures are worked out in Go; arithmetic on anything else goes into this test's list with its reason", name)
		}
	}
	for name := range worksOut {
		assert.Contains(t, sources(t, ".js"), name)
	}
}
