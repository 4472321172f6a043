package exchange

import (
	"testing"

	"gaugebook/sync/record"
)

// What the office itself says about a code or a role is more use than a guess.
func TestTheOfficesOwnWordsAboutA403(t *testing.T) {
	wrong := record.Fault{Code: "wrong-code", Field: "code", Limit: "this code is not open", Remedy: "ask for a new one"}
	if got := refused(Refusal{Status: 403, Faults: []record.Fault{wrong}}).fault; got != wrong {
		t.Errorf("got %+v, want the office's own fault %+v", got, wrong)
	}
	if got := refused(Refusal{Status: 403}).fault; got.Code != "not-allowed" {
		t.Errorf("got %+v without words of the office, want not-allowed", got)
	}
}
