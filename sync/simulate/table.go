package simulate

import (
	"fmt"
	"io"
)

// MutationTable plants every bug and writes, as Markdown, the first seed whose
// day finds it, the promise that broke, and how many of the days looked at do.
func MutationTable(w io.Writer, days, limit uint64) error {
	fmt.Fprintf(w, `# Planted bugs, and how soon the simulator finds them

Written by %[1]sgo run ./cmd/gaugebook-sim -mutations%[1]s; the test of sync/simulate holds it to be true. Each bug is planted
in the office's HTTP, its storage or the browser's model, never in the code under test. A seed is one day of two to five
phones; the promise is the first that broke. The last column counts the first %[2]d days.

| planted bug | first seed | promise broken | days of %[2]d |
| --- | --- | --- | --- |
`, "`", days)
	for _, m := range Mutations() {
		var first *Violation
		var seed, found uint64
		for s := uint64(0); s < days || first == nil && s < limit; s++ {
			if v := Run(s, Options{Mutation: m}).Violation; v != nil {
				if found++; first == nil {
					first, seed = v, s
				}
			}
		}
		if first == nil {
			return fmt.Errorf("no day of %d found: %v", limit, m)
		}
		if _, err := fmt.Fprintf(w, "| %v | %d | %s | %d |\n", m, seed, first.Oracle, found); err != nil {
			return err
		}
	}
	return nil
}
