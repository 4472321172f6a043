package main

import (
	"encoding/base64"
	"os"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gaugebook/cmd/internal/rig"
)

// The join sheet on a phone that trusts nothing yet: each step has its picture,
// it fits the phone's screen, and on paper it is one page, A4 or Letter.
func TestBrowserJoinSheet(t *testing.T) {
	words, _ := httpsHouse(t, t.TempDir())
	sheet := regexp.MustCompile(`join sheet, (http://\S+)\n`).FindStringSubmatch(words)
	require.NotNil(t, sheet, words)
	tab := rig.NewPhone(t, t.TempDir()).Tab
	tab.Go(sheet[1])
	tab.Until("This phone does not trust the office yet")
	assert.Equal(t, "", rig.Eval[string](tab, `[...document.querySelectorAll('li')].filter((li) => {
		const use = li.querySelector('svg use'); const box = use?.getBBox(); return !box || box.width < 20 || box.height < 20;
	}).map((li) => li.textContent).join('; ')`), "steps without a picture")
	assert.Equal(t, 13, rig.Eval[int](tab, "document.querySelectorAll('.ways li svg').length"), "5 steps of an iPhone, 4 of Android, 4 of a computer")
	assert.Equal(t, "", rig.Eval[string](tab, `[...document.querySelectorAll('symbol')].filter(({ id }) => !document.querySelector('use[href="#' + id + '"]')).map(({ id }) => id).join(', ')`), "pictures of no step")
	assert.LessOrEqual(t, rig.Eval[int](tab, "document.documentElement.scrollWidth - innerWidth"), 0, "pixels beyond the phone's screen")
	tab.Size(1024, 900)
	for paper, inches := range map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}} {
		out := tab.Call("Page.printToPDF", map[string]any{"paperWidth": inches[0], "paperHeight": inches[1], "printBackground": true,
			"marginTop": 0.4, "marginBottom": 0.4, "marginLeft": 0.4, "marginRight": 0.4})
		pdf, err := base64.StdEncoding.DecodeString(out["data"].(string))
		require.NoError(t, err)
		if folder := os.Getenv("GAUGEBOOK_KEEP"); folder != "" {
			require.NoError(t, os.WriteFile(folder+"/join-"+paper+".pdf", pdf, 0o600))
		}
		assert.Len(t, regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1), 1, "pages of %s", paper)
	}
}
