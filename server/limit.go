package server

import (
	"sync"
	"time"
)

// A limiter is a token bucket for each key: burst at once, then one every
// interval. It forgets a key once its bucket is full again.
type limiter struct {
	burst    int
	interval time.Duration
	now      func() time.Time

	mu    sync.Mutex
	free  map[string]time.Time // when the key's bucket is full again
	swept time.Time
}

func newLimiter(burst int, interval time.Duration, now func() time.Time) *limiter {
	return &limiter{burst: burst, interval: interval, now: now, free: map[string]time.Time{}}
}

// full says how long until there is a token, and takes none.
func (l *limiter) full(key string) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	now, free := l.now(), l.free[key]
	if free.Before(now) {
		free = now
	}
	return free.Sub(now) - time.Duration(l.burst-1)*l.interval
}

// take takes one token, or says how long until there is one.
func (l *limiter) take(key string) (wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	if now.Sub(l.swept) > time.Minute {
		for k, free := range l.free {
			if free.Before(now) {
				delete(l.free, k)
			}
		}
		l.swept = now
	}
	free := l.free[key]
	if free.Before(now) {
		free = now
	}
	free = free.Add(l.interval)
	if wait := free.Sub(now) - time.Duration(l.burst)*l.interval; wait > 0 {
		return wait
	}
	l.free[key] = free
	return 0
}
