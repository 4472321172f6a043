package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"gaugebook/sync/exchange"
	"gaugebook/sync/record"

	"github.com/stretchr/testify/require"
)

// BenchmarkPush is a full push of 500 entries over HTTP to the real server,
// from the first byte sent to the last byte of the reply; compare
// BenchmarkRawSQLite of server/store.
func BenchmarkPush(b *testing.B) {
	s := serve(b, nil, "--book", filepath.Join(b.TempDir(), "book.db"))
	h := joinWith(b, s.url, s.code)
	for b.Loop() {
		b.StopTimer()
		lines := h.write(b, exchange.MaxRecords)
		b.StartTimer()
		_, err := h.push(s.url, lines)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.N*exchange.MaxRecords)/b.Elapsed().Seconds(), "entries/s")
}

// BenchmarkFiftyPhones has 50 phones push 20 entries each, one at a time, all
// at once: how long does a phone wait for its answer?
func BenchmarkFiftyPhones(b *testing.B) {
	const phones, each = 50, 20
	s := serve(b, nil, "--demo", "--book", filepath.Join(b.TempDir(), "book.db"))
	handsets := make([]*handset, phones)
	for i := range handsets {
		handsets[i] = joinFrom(b, s.url, "", fmt.Sprintf("127.0.0.%d", 2+i/10))
	}
	var mu sync.Mutex
	var waits []time.Duration
	for b.Loop() {
		b.StopTimer()
		lines := make([][][]byte, phones)
		for i, h := range handsets {
			lines[i] = h.write(b, each)
		}
		b.StartTimer()
		var all sync.WaitGroup
		for i, h := range handsets {
			all.Go(func() {
				own := make([]time.Duration, each)
				for j := range each {
					began := time.Now()
					if _, err := h.push(s.url, lines[i][j:j+1]); err != nil {
						b.Error(err)
					}
					own[j] = time.Since(began)
				}
				mu.Lock()
				waits = append(waits, own...)
				mu.Unlock()
			})
		}
		all.Wait()
	}
	slices.Sort(waits)
	b.ReportMetric(float64(waits[len(waits)/2].Microseconds())/1000, "p50-ms")
	b.ReportMetric(float64(waits[len(waits)*99/100].Microseconds())/1000, "p99-ms")
}

// BenchmarkMemory gives a server 100,000 entries, has a fresh phone pull them
// all, and reads what the kernel says it used at most, and then.
func BenchmarkMemory(b *testing.B) {
	const n = 100_000
	s := serve(b, nil, "--book", filepath.Join(b.TempDir(), "book.db"))
	h := joinWith(b, s.url, s.code)
	for range n / exchange.MaxRecords {
		_, err := h.push(s.url, h.write(b, exchange.MaxRecords))
		require.NoError(b, err)
	}
	for b.Loop() {
		var mark record.Mark
		for more := true; more; {
			page := h.pull(b, s.url, mark)
			mark, more = page.Next, page.More
		}
		require.EqualValues(b, n, mark.Seq)
	}
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", s.cmd.Process.Pid))
	require.NoError(b, err)
	for name, metric := range map[string]string{"VmHWM:": "peak-MB", "VmRSS:": "then-MB"} {
		_, rest, _ := strings.Cut(string(status), name)
		kB, err := strconv.Atoi(strings.Fields(rest)[0])
		require.NoError(b, err)
		b.ReportMetric(float64(kB)/1024, metric)
	}
}
