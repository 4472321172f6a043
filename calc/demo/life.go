package demo

import (
	"container/heap"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"gaugebook/calc/book"
	"gaugebook/calc/quantity"
	"gaugebook/calc/still"
)

// An Entry is one entry of the demo, in the order it reached the office.
type Entry struct {
	Device   string
	Happened time.Time
	Written  time.Time
	By       string
	Body     book.Body
}

// The phones of the house.
const (
	officePhone = "heron41"
	stillPhone  = "lark17"
	cellarPhone = "moss80"
	partyPhone  = "tarn23"
)

// The people, by initials: the owner, the distiller, the cellar hand, a helper.
const owner, distiller, hand, helper = "MQ", "IB", "SO", "TV"

// Eighteen is the demo book: eighteen months from May 2025.
func Eighteen() []Entry { return Life(18, 1) }

// Life is so many months of the house, with so many production lines side by
// side: stills, fermenters, tanks and barrels of each. It panics where the book
// would refuse an entry, since that is a mistake in this package.
func Life(months, lines int) []Entry {
	start := time.Date(2025, 5, 1, 7, 0, 0, 0, zone)
	d := &diary{
		b: book.New(), seq: map[string]uint64{}, kept: map[string][]Entry{},
		rnd: rand.New(rand.NewPCG(41, 17)), party: rand.New(rand.NewPCG(6, 12)), filled: map[string]int{}, now: start, end: start.AddDate(0, months, 0),
	}
	d.furnish(lines)
	for d.tasks.Len() > 0 {
		next := heap.Pop(&d.tasks).(task)
		if next.at.After(d.end) {
			break
		}
		if next.at.After(d.now) { // what is late waits for what is being done: the house has few hands
			d.now = next.at
		}
		next.do()
	}
	return d.entries
}

// zone is the house's: five hours behind Greenwich all year, for the hills of
// the demo keep no summer time.
var zone = time.FixedZone("", -5*3600)

// A diary writes the life down as it is lived.
type diary struct {
	b          *book.Book
	entries    []Entry
	seq        map[string]uint64
	away       string // a phone without a signal
	kept       map[string][]Entry
	rnd        *rand.Rand
	party      *rand.Rand // of what happens on the bottling floor beside the counts
	now        time.Time
	end        time.Time
	tasks      tasks
	order      int
	overfilled bool
	bottlings  int                     // runs closed so far
	filled     map[string]int          // lots filled on a day, by their code
	curves     map[float64]still.Curve // by the proof of the charge
	house
}

// A task is something that will be done at its time.
type task struct {
	at    time.Time
	order int
	do    func()
}

type tasks []task

func (q tasks) Len() int { return len(q) }
func (q tasks) Less(i, j int) bool {
	if q[i].at.Equal(q[j].at) {
		return q[i].order < q[j].order
	}
	return q[i].at.Before(q[j].at)
}
func (q tasks) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *tasks) Push(x any)   { *q = append(*q, x.(task)) }
func (q *tasks) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}

// at plans a task.
func (d *diary) at(when time.Time, do func()) {
	d.order++
	heap.Push(&d.tasks, task{when, d.order, do})
}

// in plans a task after some days, at an hour of the day.
func (d *diary) in(days, hour int, do func()) {
	y, m, day := d.now.AddDate(0, 0, days).Date()
	d.at(time.Date(y, m, day, hour, d.rnd.IntN(50), 0, 0, zone), do)
}

// pass lets some minutes go by.
func (d *diary) pass(minutes int) { d.now = d.now.Add(time.Duration(minutes) * time.Minute) }

// write puts an entry into the book, as a person who looks at the form would:
// what the book refuses is a mistake of this package.
func (d *diary) write(device, by string, body book.Body) book.Address {
	if faults := append(book.Check(body), d.b.State().Timely(body)...); len(faults) > 0 {
		panic(fmt.Sprintf("demo: %s on %s: %v", book.KindOf(body).Name, d.now.Format(time.DateTime), faults))
	}
	return d.tell(device, by, d.now, body)
}

// tell puts an entry into the book whatever the book thinks of it.
func (d *diary) tell(device, by string, happened time.Time, body book.Body) book.Address {
	d.pass(1)
	d.seq[device]++
	e := Entry{Device: device, Happened: happened, Written: d.now, By: by, Body: body}
	if device == d.away {
		d.kept[device] = append(d.kept[device], e)
	} else {
		d.entries = append(d.entries, e)
	}
	d.b.Add(entry(e, d.seq[device]))
	return book.MakeAddress(device, d.seq[device])
}

// entry is a demo entry as the book takes it, before it was ever sealed.
func entry(e Entry, seq uint64) *book.Entry {
	k := book.KindOf(e.Body)
	moment := func(t time.Time) book.Moment { return book.MomentAt(t.UnixMilli(), t.Format(time.RFC3339)) }
	return &book.Entry{ID: fmt.Sprintf("%s-%d", e.Device, seq), Device: e.Device, Seq: seq, Clock: fmt.Sprintf("%012x-%04x", e.Written.UnixMilli(), 0),
		Written: moment(e.Written), Happened: moment(e.Happened), By: e.By, Kind: k.Name, Version: k.Version, Body: e.Body, Raw: book.Encode(e.Body)}
}

// leave takes a phone out of reach; comeBack brings what it wrote meanwhile.
func (d *diary) leave(device string) { d.away = device }

func (d *diary) comeBack() {
	d.entries = append(d.entries, d.kept[d.away]...)
	delete(d.kept, d.away)
	d.away = ""
}

// q is a figure as a person would type it: so many places and the unit.
func q(x float64, places int32, unit quantity.Unit) quantity.Reading {
	return quantity.FromDecimal(quantity.Snap(x).Round(places), unit)
}

// about is x, give or take a share of it, evenly.
func (d *diary) about(x, share float64) float64 { return x * (1 + share*(2*d.rnd.Float64()-1)) }

// whole is a number of pieces between two.
func (d *diary) whole(from, to int) int { return from + d.rnd.IntN(to-from+1) }

func pick[T any](d *diary, list ...T) T { return list[d.rnd.IntN(len(list))] }

// toTenth rounds to a tenth, as an instrument's marks are read.
func toTenth(x float64) float64 { return math.Round(x*10) / 10 }
