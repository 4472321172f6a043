package rig

import (
	"syscall"
	"time"
)

// slice is how long a slowed phone runs and rests, in turn, taken together.
const slice = 12 * time.Millisecond

// Slow makes the phone so many times slower, until the function it gives is
// called: the whole browser is stopped and let run in turn. Chromium's own
// throttle slows the page's thread alone, not the worker with the engine, nor
// the storage.
func (p *Phone) Slow(times int) (stop func()) {
	p.bench.Helper()
	group, done, gone := -p.cmd.Process.Pid, make(chan struct{}), make(chan struct{})
	run := slice / time.Duration(times)
	go func() {
		defer close(gone)
		defer syscall.Kill(group, syscall.SIGCONT) // an error says that it is gone already
		for {
			syscall.Kill(group, syscall.SIGSTOP)
			time.Sleep(slice - run)
			syscall.Kill(group, syscall.SIGCONT)
			select {
			case <-done:
				return
			case <-time.After(run):
			}
		}
	}()
	return func() {
		close(done)
		<-gone
	}
}
