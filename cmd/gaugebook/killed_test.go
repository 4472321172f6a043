package main

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"gaugebook/server/store"
	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A typist pushes without pause, and keeps what was not answered for.
type typist struct {
	*handset
	acked   [][]byte // answered for
	pending [][]byte // sent, and no answer came
}

// typeOn pushes until the server is gone. Each push is of 1 to 12 entries.
func (w *typist) typeOn(t *testing.T, url string, chance *rand.Rand) {
	for {
		if w.pending == nil {
			w.pending = w.write(t, 1+chance.IntN(12))
		}
		reply, err := w.push(url, w.pending)
		if err != nil {
			return
		}
		for i, answer := range reply.Entries {
			if answer.State != exchange.New && answer.State != exchange.Duplicate {
				t.Errorf("%s is %s: %v", w.pending[i], answer.State, answer.Fault)
			}
		}
		w.acked, w.pending = append(w.acked, w.pending...), nil
	}
}

// The server is killed at a random moment, again and again, while two phones
// push. After each kill what was acknowledged is there, once and in order; of
// a push that was under way, all or nothing is; and the log's chain holds.
//
// SIGKILL leaves what the kernel has not written yet in its hands, so this
// proves commits and replies, not the disk: TestSyncPrecedesReply does that.
func TestKilledServerLosesNothing(t *testing.T) {
	kills := 300
	if n, err := strconv.Atoi(os.Getenv("GAUGEBOOK_KILLS")); err == nil {
		kills = n
	}
	seed := uint64(20261125)
	chance := rand.New(rand.NewPCG(seed, 0))
	book := filepath.Join(t.TempDir(), "book.db")
	s := serve(t, nil, "--book", book)
	first := joinWith(t, s.url, s.code)
	s.kill()
	s = serve(t, nil, "--book", book, "--invite")
	typists := []*typist{{handset: first}, {handset: joinWith(t, s.url, s.code)}}

	var mark record.Mark                          // of the log, as far as it was looked at
	places := map[string]int{}                    // by device: how many of its lines the log holds
	var cutShort, committed, lost, quiet, all int // kills during a push; of these: stored, not stored
	began := time.Now()
	for range kills {
		wait := time.Duration(chance.IntN(20_000)) * time.Microsecond
		done := make(chan struct{})
		for i, w := range typists {
			own := rand.New(rand.NewPCG(seed, uint64(all*2+i+1)))
			go func() { w.typeOn(t, s.url, own); done <- struct{}{} }()
		}
		time.AfterFunc(wait, s.kill)
		<-done
		<-done
		s.kill()
		all++

		s = serve(t, nil, "--book", book)
		for {
			page := typists[0].pull(t, s.url, mark)
			for _, line := range page.Lines {
				r, err := record.Decode(line)
				require.NoError(t, err)
				for _, w := range typists {
					if w.chain.Device != r.Device {
						continue
					}
					at := places[r.Device]
					places[r.Device]++
					switch held := append(w.acked[:len(w.acked):len(w.acked)], w.pending...); {
					case at >= len(held):
						t.Fatalf("%s was stored and never sent, or twice", r.Address())
					case string(held[at]) != string(line):
						t.Fatalf("%s stands where %s was sent", line, held[at])
					}
				}
				mark = mark.Next(line)
			}
			require.Equal(t, page.Next, mark, "the chain over what was pulled is the server's")
			if !page.More {
				break
			}
		}
		for _, w := range typists {
			switch places[w.chain.Device] {
			case len(w.acked):
				if w.pending == nil {
					quiet++
					continue
				}
				lost++
			case len(w.acked) + len(w.pending):
				committed++
			default:
				t.Fatalf("%s: %d are stored, %d were acknowledged, %d under way: a push was stored in part, or an acknowledged entry is gone",
					w.chain.Device, places[w.chain.Device], len(w.acked), len(w.pending))
			}
			cutShort++
		}
	}
	t.Logf("%d kills in %v; %d entries acknowledged; %d pushes cut short, of which %d were stored and %d were not; %d times none was under way",
		kills, time.Since(began).Round(time.Millisecond), len(typists[0].acked)+len(typists[1].acked), cutShort, committed, lost, quiet)
	assert.Positive(t, committed, "no kill came between a commit and its reply: this test saw too little")
	assert.Positive(t, lost, "no kill came before a commit: this test saw too little")

	s.kill()
	r, err := store.OpenReader(t.Context(), book)
	require.NoError(t, err)
	defer r.Close()
	v, err := r.Verify(t.Context(), mark)
	require.NoError(t, err)
	require.NoError(t, v.Err())
	assert.Empty(t, v.Gaps)
	assert.Equal(t, mark, v.Head)
	asides, err := r.Asides(t.Context())
	require.NoError(t, err)
	assert.Empty(t, asides)
}
