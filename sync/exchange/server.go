package exchange

import (
	"bytes"
	"errors"
	"strconv"
	"time"

	"gaugebook/sync/record"
)

// Receive judges every line of a push, in order, and stores each where it
// belongs. It is to run in one transaction; the reply may leave only after
// that transaction is on disk. An error that is a *Refusal goes to the phone;
// after any error the transaction is rolled back.
//
// A push is never refused for its age: a build of any proto may bring what it
// holds.
func Receive(p Push, now time.Time, rights Rights, l Ledger) (PushReply, error) {
	epoch, err := l.Epoch()
	if err != nil {
		return PushReply{}, err
	}
	if p.Epoch != "" && p.Epoch != epoch {
		return PushReply{}, anotherLog(epoch, p.Epoch)
	}
	reply := PushReply{Epoch: epoch, NowMS: now.UnixMilli(), Entries: make([]Answer, 0, len(p.Lines))}
	j := judge{ledger: l, rights: rights, tips: map[string]record.Tip{}}
	for _, line := range p.Lines {
		answer, err := j.line(line)
		if err != nil {
			return PushReply{}, err
		}
		reply.Entries = append(reply.Entries, answer)
	}
	if reply.Head, err = l.Head(); err != nil {
		return PushReply{}, err
	}
	tip, err := l.Tip(p.Device)
	reply.Through = tip.Through
	return reply, err
}

// A judge decides line after line, and remembers where each device's chain
// ends so that a phone in order costs one look-up a line.
type judge struct {
	ledger Ledger
	rights Rights
	tips   map[string]record.Tip
}

func (j *judge) line(line []byte) (Answer, error) {
	r, err := record.Decode(line)
	if err != nil {
		return j.aside(Malformed, r, line, asFault(err))
	}
	known, err := j.ledger.ByID(r.ID)
	if err != nil {
		return Answer{}, err
	}
	if known.Line != nil {
		return j.again(r, line, known)
	}
	where, err := j.place(r, line)
	switch {
	case err != nil:
		return Answer{}, err
	case where == Forked:
		return j.aside(Forked, r, line, record.Fault{Code: record.Conflict, Field: "seq", Value: r.Address(), Entry: r.Address(),
			Limit: "this place in the device's chain is another entry's", Remedy: "the phone takes a new name and numbers the entry anew"})
	case !j.rights.MayWrite(r):
		j.extend(r, line)
		return j.aside(Quarantined, r, line, record.Fault{Code: "not-allowed", Field: "kind", Value: r.Kind, Entry: r.Address(),
			Limit: "the role of the phone that brought it does not cover this entry", Remedy: "the owner lets it in, or leaves it out"})
	}
	j.extend(r, line)
	return j.store(where, r, line)
}

// again judges a line whose id is known.
func (j *judge) again(r record.Record, line []byte, known record.Stored) (Answer, error) {
	if bytes.Equal(line, known.Line) {
		if known.Seq == 0 && j.rights.MayWrite(r) {
			return j.store(New, r, line)
		}
		return repeated(r, known), nil
	}
	other, err := record.Decode(known.Line)
	if err != nil {
		return Answer{}, err
	}
	if record.SameContent(r, other) {
		return repeated(r, known), nil
	}
	return j.aside(Malformed, r, line, record.Fault{Code: record.Conflict, Field: "id", Value: r.ID.String(), Entry: r.Address(),
		Limit: "this identity is that of " + other.Address() + ", which says something else", Remedy: "compare the two; if both are true, write this one again"})
}

func repeated(r record.Record, known record.Stored) Answer {
	state := Duplicate
	if known.Seq == 0 {
		state = Quarantined
	}
	return Answer{ID: r.ID.String(), State: state, Seq: known.Seq}
}

// place judges a line's place in its device's chain: New, Gap or Forked.
func (j *judge) place(r record.Record, line []byte) (State, error) {
	tip, seen := j.tips[r.Device]
	if !seen {
		var err error
		if tip, err = j.ledger.Tip(r.Device); err != nil {
			return "", err
		}
		j.tips[r.Device] = tip
	}
	if r.Seq == tip.Seq+1 {
		if r.Prev != tip.Digest {
			return Forked, nil
		}
		return New, nil
	}
	if r.Seq > tip.Seq {
		return Gap, nil
	}
	here, err := j.ledger.At(r.Device, r.Seq)
	if err != nil || here.Line != nil {
		return Forked, err
	}
	after, err := j.ledger.At(r.Device, r.Seq+1)
	if err != nil {
		return "", err
	}
	if after.Line != nil {
		next, err := record.Decode(after.Line)
		if err != nil || next.Prev != record.DigestOf(line) {
			return Forked, err
		}
	}
	if r.Seq == 1 {
		return New, nil
	}
	before, err := j.ledger.At(r.Device, r.Seq-1)
	switch {
	case err != nil:
		return "", err
	case before.Line == nil:
		return Gap, nil
	case r.Prev != record.DigestOf(before.Line):
		return Forked, nil
	}
	return New, nil
}

// extend moves the remembered end of the device's chain.
func (j *judge) extend(r record.Record, line []byte) {
	if r.Seq > j.tips[r.Device].Seq {
		j.tips[r.Device] = record.Tip{Seq: r.Seq, Digest: record.DigestOf(line)}
	}
}

func (j *judge) store(state State, r record.Record, line []byte) (Answer, error) {
	seq, err := j.ledger.Append(r, line)
	return Answer{ID: r.ID.String(), State: state, Seq: seq}, err
}

func (j *judge) aside(state State, r record.Record, line []byte, fault record.Fault) (Answer, error) {
	answer := Answer{State: state, Fault: &fault}
	if r.Seq > 0 {
		answer.ID = r.ID.String()
	}
	return answer, j.ledger.SetAside(string(state), r, line, fault)
}

// Deliver is one page of the log after the phone's mark, as far as the role
// may see it; the page's next mark passes over what it may not. Its error may
// be a *Refusal.
//
// The lines it returns are those the Reader gave, so they must outlive the
// call to yield.
func Deliver(q PullQuery, now time.Time, rights Rights, l Reader) (Page, error) {
	if q.Proto < Proto {
		return Page{}, refuse(426, "too-old", "proto", strconv.Itoa(q.Proto), "this app is older than the office's book",
			"update the app; what this phone holds can still be sent")
	}
	epoch, err := l.Epoch()
	if err != nil {
		return Page{}, err
	}
	if q.Since.Seq > 0 {
		mark, ok, err := l.MarkAt(q.Since.Seq)
		if err != nil {
			return Page{}, err
		}
		if !ok || mark != q.Since {
			return Page{}, anotherLog(epoch, q.Since.String())
		}
	}
	page := Page{PullHeader: PullHeader{Epoch: epoch, Scope: rights.Scope(), NowMS: now.UnixMilli()}}
	last, size := q.Since.Seq, 0
	var broken error
	err = l.After(q.Since.Seq, func(seq int64, line []byte) bool {
		r, err := record.Decode(line)
		if err != nil {
			broken = err
			return false
		}
		if rights.MaySee(r) {
			if size += len(line) + 1; size > MaxBytes {
				return false
			}
			page.Lines = append(page.Lines, line)
		}
		last = seq
		return len(page.Lines) < q.Limit
	})
	if err = errors.Join(err, broken); err != nil {
		return Page{}, err
	}
	if page.Next = q.Since; last > q.Since.Seq {
		if page.Next, _, err = l.MarkAt(last); err != nil {
			return Page{}, err
		}
	}
	if page.Head, err = l.Head(); err != nil {
		return Page{}, err
	}
	page.More = last < page.Head.Seq
	return page, nil
}

func anotherLog(epoch, known string) *Refusal {
	refusal := refuse(409, record.Conflict, "epoch", known, "this is another log than the one the phone knew",
		"the phone asks from the beginning and offers again what it holds")
	refusal.Epoch = epoch
	return refusal
}

func asFault(err error) record.Fault {
	var fault record.Fault
	if !errors.As(err, &fault) {
		fault = record.Fault{Code: record.Malformed, Field: "record", Limit: err.Error()}
	}
	return fault
}
