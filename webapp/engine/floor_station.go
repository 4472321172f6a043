package engine

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaugebook/calc/book"
)

// floorOf is what the bottling floor's pages are asked for.
type floorOf struct {
	Station book.Station `json:"station"`
	Device  string       `json:"device"` // the phone that asks
	Goal    string       `json:"goal"`   // cases at this station, as typed; "" for who likes none
}

type stationView struct {
	Runs     []runChoice  `json:"runs"`
	Run      *runChoice   `json:"run"` // nil: there is none to count for
	Stations []placeAt    `json:"stations"`
	Station  book.Station `json:"station"` // "" where none is chosen yet
	Result   *result      `json:"result"`
	Adds     string       `json:"adds"` // what the big button counts; "" where the run does not say how many a case holds
	Spoils   []spoilAt    `json:"spoils"`
	Last     *lastAt      `json:"last"`   // what this phone can take back
	Beware   string       `json:"beware"` // another phone counts here
	Pace     string       `json:"pace"`
}

// A placeAt is a station with what it counted.
type placeAt struct {
	Station book.Station `json:"station"`
	Name    string       `json:"name"`
	Counted string       `json:"counted"`
	Phones  []string     `json:"phones"` // that counted there
}

type spoilAt struct {
	Reason string `json:"reason"`
	Label  string `json:"label"`
	Count  string `json:"count"`
}

type lastAt struct {
	Entry book.Address `json:"entry"`
	Says  string       `json:"says"`
}

// stationPage is one station of a run as the phone that stands there shows it.
func (e *Engine) stationPage(in viewOf) stationView {
	out := stationView{Runs: []runChoice{}, Stations: []placeAt{}, Spoils: []spoilAt{}}
	run := e.openRun(in.Run, &out.Runs)
	if run == nil {
		return out
	}
	out.Run, out.Stations = &runChoice{run.Address, bottlingTitle(run)}, stationsOf(run)
	if !slices.Contains(book.Stations(), in.Station) {
		return out
	}
	out.Station = in.Station
	if run.PerCase > 0 {
		out.Adds = fmt.Sprintf("+%d bottles", run.PerCase)
	}
	all, mine := countAt(run, in.Station, ""), countAt(run, in.Station, in.Device)
	out.Result = &result{Label: "Counted at ‘" + string(in.Station) + "’, by all phones", Figure: strconv.FormatInt(all.bottles, 10), Unit: "bottles",
		Beside: []pair{{"this phone", onPallet(mine.bottles, run.PerCase)}}}
	if run.PerCase > 1 {
		out.Result.Figure, out.Result.Unit, _ = strings.Cut(onPallet(all.bottles, run.PerCase), " ")
		out.Result.Beside = append([]pair{{"all", counted(all.bottles, "bottle", "bottles")}}, out.Result.Beside...)
	}
	for _, reason := range []string{"broken", "low fill", "label", "closure"} {
		var n int64
		for _, t := range run.Tally {
			if t.Spoiled == reason && t.Station == in.Station {
				n += t.Bottles
			}
		}
		out.Spoils = append(out.Spoils, spoilAt{reason, capital(reason), strconv.FormatInt(n, 10)})
	}
	for _, t := range slices.Backward(run.Tally) {
		if t.Device == in.Device && t.Station == in.Station {
			out.Last = &lastAt{t.Entry, tallied(t)}
			break
		}
	}
	out.Beware = e.othersHere(run, in)
	out.Pace = e.pace(run, in, all)
	return out
}

// openRun is the wanted run among the open ones, else the latest of them.
func (e *Engine) openRun(wanted book.Address, list *[]runChoice) *book.Bottling {
	var run *book.Bottling
	for a, b := range e.book.State().Bottlings {
		if !b.Open() {
			continue
		}
		*list = append(*list, runChoice{a, bottlingTitle(b)})
		if run == nil || run.Address != wanted {
			run = b
		}
	}
	return run
}

func stationsOf(r *book.Bottling) []placeAt {
	var out []placeAt
	for _, s := range book.Stations() {
		p := placeAt{Station: s, Name: capital(string(s)), Counted: onPallet(r.At(s), r.PerCase), Phones: []string{}}
		for _, t := range r.Tally {
			if t.Station == s && !slices.Contains(p.Phones, t.Device) {
				p.Phones = append(p.Phones, t.Device)
			}
		}
		out = append(out, p)
	}
	return out
}

type stationCount struct {
	bottles int64
	first   book.Moment
}

// countAt is what was counted at a station by one phone, or by all.
func countAt(r *book.Bottling, at book.Station, device string) (out stationCount) {
	for _, t := range r.Tally {
		if t.Spoiled == "" && t.Station == at && (device == "" || t.Device == device) {
			if out.bottles == 0 {
				out.first = t.On
			}
			out.bottles += t.Bottles
		}
	}
	return out
}

// tallied is a count in words: ‘1 case, 10:42’.
func tallied(t book.Tallied) string {
	what := counted(t.Bottles, "bottle", "bottles")
	switch {
	case t.Spoiled != "":
		what = fmt.Sprintf("%d spoiled, %s", t.Bottles, t.Spoiled)
	case t.Cases > 0:
		what = counted(t.Cases, "case", "cases")
	}
	return what + ", " + t.On.Clock()
}

// onPallet is a number of bottles as they stand on a pallet: ‘3 cases, 2 loose’.
func onPallet(n, per int64) string {
	if per <= 1 {
		return counted(n, "bottle", "bottles")
	}
	words := counted(n/per, "case", "cases")
	if loose := n % per; loose > 0 {
		words += fmt.Sprintf(", %d loose", loose)
	}
	return words
}

// besideWithin is how long another phone's count at a station is told to who
// counts there too.
const besideWithin = 30 * time.Minute

func (e *Engine) othersHere(r *book.Bottling, in viewOf) string {
	var others []string
	for _, t := range r.Tally {
		if t.Station == in.Station && t.Device != in.Device && t.Spoiled == "" && e.now().Since(t.On) <= besideWithin && !slices.Contains(others, t.Device) {
			others = append(others, t.Device)
		}
	}
	if len(others) == 0 || in.Device == "" {
		return ""
	}
	return "Counting here too: " + strings.Join(others, ", ") + ". Never count one case on two phones."
}

// paceOver is how far back a pace looks, paceFrom from how early on it says
// anything.
const (
	paceOver = time.Hour
	paceFrom = 5 * time.Minute
)

// pace says how a station stands to a goal of cases.
func (e *Engine) pace(r *book.Bottling, in viewOf, all stationCount) string {
	goal, err := strconv.ParseInt(strings.TrimSpace(in.Goal), 10, 32)
	switch {
	case strings.TrimSpace(in.Goal) == "":
		return ""
	case err != nil || goal < 1:
		return "“" + in.Goal + "” is no number of cases: give a whole one, such as 60."
	case r.PerCase < 1:
		return "The run does not say how many bottles a case holds, so there is no goal of cases."
	}
	done := all.bottles / r.PerCase
	words := fmt.Sprintf("%d of %s.", done, counted(goal, "case", "cases"))
	if done >= goal {
		return words + " The goal is reached."
	}
	now := e.now()
	span := min(now.Since(all.first), paceOver)
	if all.bottles == 0 || span < paceFrom {
		return words + " The pace shows after the first five minutes."
	}
	var lately int64
	for _, t := range r.Tally {
		if t.Spoiled == "" && t.Station == in.Station && now.Since(t.On) <= span {
			lately += t.Bottles
		}
	}
	hourly := float64(lately) / float64(r.PerCase) / span.Hours()
	if hourly <= 0 {
		return words + " Nothing was counted within the hour."
	}
	left := time.Duration((float64(goal) - float64(all.bottles)/float64(r.PerCase)) / hourly * float64(time.Hour))
	words += fmt.Sprintf(" %.0f an hour", hourly)
	if left < 12*time.Hour {
		at := e.outside.Now().Add(left)
		words += "; at this pace the goal at about " + at.Format("15:04")
	}
	return words + "."
}
