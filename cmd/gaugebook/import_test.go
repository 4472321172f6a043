package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func lines(t *testing.T) []string {
	raw, err := os.ReadFile(threeMonths)
	require.NoError(t, err)
	return strings.SplitAfter(strings.TrimSuffix(string(raw), "\n"), "\n")
}

func TestABadLineIsNamedAndTheOthersGoIn(t *testing.T) {
	all := lines(t)
	path := filepath.Join(t.TempDir(), "book.db")
	bad := strings.Join([]string{all[0], strings.Replace(all[1], `"seq":2`, `"seq": 2`, 1), "\n", all[2], "nonsense\n", strings.Repeat("x", 70_000) + "\n"}, "")
	out, errs, err := asked(t, bad, "import", "--book", path, "-")
	require.EqualError(t, err, "lines “3”: were left out, each for the reason given; correct them and import the file again; what is there already is passed over.")
	require.Equal(t, "2 entries taken in, 0 were there already, 3 left out\n", out)
	said := strings.Split(errs, "\n")
	require.Len(t, said, 4)
	assert.Equal(t, "line 2: seq “ 2”: a number is plain digits without a leading zero, below 2^53; a line is taken exactly as it was exported: export it again, or bring it as CSV.", said[0])
	assert.Contains(t, said[1], "line 5: id “nonsense”: a record's fields stand in one order, without spaces: here {\"id\":\"; ")
	assert.Contains(t, said[2], "line 6: record: a line has at most 65536 bytes; ")

	out, _, err = asked(t, strings.Join(all, ""), "import", "--book", path, "-")
	require.NoError(t, err)
	require.Equal(t, "662 entries taken in, 2 were there already, 0 left out\n", out)
}

func TestAllOrNothing(t *testing.T) {
	all := lines(t)
	path := filepath.Join(t.TempDir(), "book.db")
	out, errs, err := asked(t, all[0]+"nonsense\n"+all[1], "import", "--book", path, "--all-or-nothing", "-")
	require.EqualError(t, err, "lines “1”: are at fault, so nothing was taken in; correct them, or leave out --all-or-nothing.")
	require.Contains(t, errs, "line 2: ")
	require.Equal(t, "0 entries taken in, 0 were there already, 3 left out\n", out)
	exported, _, err := asked(t, "", "export", "--book", path)
	require.NoError(t, err)
	require.Empty(t, exported)
}

func TestALineThatSaysSomethingElseUnderOneIdentity(t *testing.T) {
	all := lines(t)
	path := filepath.Join(t.TempDir(), "book.db")
	forged := strings.Replace(all[1], `"by":"`, `"by":"X`, 1)
	for _, way := range [][]string{nil, {"--all-or-nothing"}} {
		out, errs, err := asked(t, all[0]+all[1]+forged, append(append([]string{"import", "--book", path}, way...), "-")...)
		require.Error(t, err)
		require.Contains(t, errs, "line 3: heron41-2: id “")
		require.Contains(t, errs, "this identity is that of heron41-2, which says something else")
		if way == nil {
			require.Equal(t, "2 entries taken in, 0 were there already, 1 left out\n", out)
		} else {
			require.Equal(t, "0 entries taken in, 0 were there already, 3 left out\n", out)
			require.ErrorContains(t, err, "nothing was taken in")
		}
	}
	out, errs, err := asked(t, "", "verify", "--book", path)
	require.NoError(t, err, errs)
	require.Contains(t, out, "2 entries of 1 devices", "what was at fault is kept nowhere")
}

func TestAnEntryTheBookDoubtsIsTakenAsItIs(t *testing.T) {
	all := lines(t)
	path := filepath.Join(t.TempDir(), "book.db")
	doubted := strings.Replace(all[0], `"name":"`, `"plant":"P","name":"`, 1) // the fields of a body stand in their order, and this build reads any
	out, errs, err := asked(t, doubted, "import", "--book", path, "-")
	require.NoError(t, err, errs)
	require.Equal(t, "1 entries taken in, 0 were there already, 0 left out\n", out)
	require.Contains(t, errs, "line 1, taken in as it is: heron41-1")
}

const gauges = "happened,vessel,volume,temp,indicated,by\n" +
	"2026-11-15 09:00,heron41-2,50,60,140,MQ\n" +
	"2026-11-15T10:00:00-05:00,heron41-2,50.5 gal,15 C,139,\n"

func started(t *testing.T) string {
	path := filepath.Join(t.TempDir(), "book.db")
	_, errs, err := asked(t, "happened,name,convention\n2026-11-01 08:00,Hollow Alder,us\n", "import", "--book", path, "--kind", "book opened", "--by", "MQ", "--device", "heron41", "-")
	require.NoError(t, err, errs)
	_, errs, err = asked(t, "name,use,capacity,happened\nTank 1,tank,100,2026-11-01 08:01\n", "import", "--book", path, "--kind", "vessel registered", "--by", "MQ", "--device", "heron41", "-")
	require.NoError(t, err, errs)
	return path
}

func TestRowsOfACSVBecomeEntries(t *testing.T) {
	path := started(t)
	out, errs, err := asked(t, gauges, "import", "--book", path, "--kind", "spirit gauged", "--by", "IB", "-")
	require.NoError(t, err, errs)
	require.Equal(t, "2 entries taken in, 0 were there already, 0 left out\n", out)
	exported, _, err := asked(t, "", "export", "--book", path, "--kind", "spirit gauged")
	require.NoError(t, err)
	two := strings.Split(exported, "\n")
	assert.Contains(t, two[0], `"device":"import01","seq":1,"prev":"","clock":"`)
	assert.Contains(t, two[0], `"by":"MQ","kind":"spirit gauged","v":1,"seen":2,"body":{"vessel":"heron41-2","volume":"50gal","indicated":"140proof","temp":"60F"}}`)
	assert.Contains(t, two[1], `"happened":"2026-11-15T10:00:00-05:00","by":"IB"`)
	assert.Contains(t, two[1], `"temp":"15C"`)

	out, _, err = asked(t, gauges, "import", "--book", path, "--kind", "spirit gauged", "--by", "IB", "-")
	require.NoError(t, err)
	require.Equal(t, "0 entries taken in, 2 were there already, 0 left out\n", out, "the same file again is the same entries")
	_, errs, err = asked(t, "", "verify", "--book", path)
	require.NoError(t, err, errs)
}

func TestAnExportedCSVCanBeWrittenAnew(t *testing.T) {
	from, to := bookOfThreeMonths(t), started(t)
	folder := filepath.Join(t.TempDir(), "csv")
	_, _, err := asked(t, "", "export", "--book", from, "--csv", folder, "--kind", "run started")
	require.NoError(t, err)
	raw, err := os.ReadFile(filepath.Join(folder, "run-started.csv"))
	require.NoError(t, err)
	_, _, err = asked(t, string(raw), "import", "--book", to, "--kind", "run started", "-")
	require.ErrorContains(t, err, "header “(entry)”: is a column of entries that are written already; to bring entries over as they are, import JSON lines")

	rows := strings.Split(string(raw), "\n")
	rows[0] = strings.NewReplacer("(entry),", "note2,", "(written),(stands),", "note3,note4,").Replace(rows[0])
	_, _, err = asked(t, strings.Join(rows, "\n"), "import", "--book", to, "--kind", "run started", "-")
	require.ErrorContains(t, err, "header “note2”: is no field of ‘run started’; did you mean note?")

	kept := cutColumns(t, string(raw), 0, 3, 4)
	out, errs, err := asked(t, kept, "import", "--book", to, "--kind", "run started", "-")
	require.NoError(t, err, errs)
	require.Contains(t, out, " 0 left out\n")
	before, _, err := asked(t, "", "export", "--book", from, "--kind", "run started")
	require.NoError(t, err)
	after, _, err := asked(t, "", "export", "--book", to, "--kind", "run started")
	require.NoError(t, err)
	require.Equal(t, bodies(before), bodies(after), "groups and all")
}

func bodies(jsonl string) string {
	var out []string
	for _, l := range strings.Split(strings.TrimSpace(jsonl), "\n") {
		_, body, _ := strings.Cut(l, `"body":`)
		out = append(out, body)
	}
	return strings.Join(out, "\n")
}

func TestWhatIsWrongWithACSVIsNamed(t *testing.T) {
	path := started(t)
	head := "happened,vessel,volume,temp,indicated\n"
	row := "2026-11-15 09:00,heron41-2,50,60,140\n"
	for csv, want := range map[string]string{
		"":                                      "header: the first row names the fields: the file is empty; gaugebook docs lists the fields of every kind.",
		"vessel,volume\nx,y\n":                  "header “happened”: a column says when each row happened; add it, with times such as 2026-11-15 14:05.",
		"happened,vesel\n":                      "header “vesel”: is no field of ‘spirit gauged’; did you mean vessel? its fields are vessel, volume",
		"happened,vessel,vessel\n":              "header “vessel”: stands there twice; leave one of the two columns out.",
		head + "\"open\n":                       "csv: line 2: extraneous or missing \" in quoted-field; correct the file; nothing of it was taken in.",
		head + row + "yesterday,heron41-2,,,\n": "line 3: happened “yesterday”: is not a time; write it as 2026-11-15 14:05, or with its offset as 2026-11-15T14:05:00-05:00.",
		head + row + ",heron41-2,50,60,140\n":   "line 3: happened: the row does not say when; write it as 2026-11-15 14:05.",
		head + row + "2026-11-15 09:00,heron41-2,50,60,240\n":   "line 3: indicated “240 proof”: is above 206 proof, the most this field takes; read the instrument again.",
		head + row + "2026-11-15 09:00,heron41-2,50,60,140,9\n": "line 3: row “9”: is a cell more than the 5 columns; put text with a comma in quotation marks.",
	} {
		_, errs, err := asked(t, csv, "import", "--book", path, "--kind", "spirit gauged", "--by", "MQ", "--all-or-nothing", "-")
		require.Error(t, err, csv)
		assert.Contains(t, errs+err.Error(), want, csv)
	}
	_, errs, err := asked(t, head+row, "import", "--book", path, "--kind", "spirit gauged", "-")
	require.Error(t, err)
	assert.Contains(t, errs, "line 2: by: the row does not say who; add a column by, or give --by.")
	_, _, err = asked(t, "", "import", "--book", path, "--kind", "spirit gauged", "--device", "Import 1", "-")
	assert.EqualError(t, err, "device “Import 1”: is no name of a device; use a word and two or three digits, such as import01.")
	_, errs, err = asked(t, "happened,still,charge\n2026-11-15 09:00,heron41-2,Tank 1\n", "import", "--book", path, "--kind", "run started", "--by", "MQ", "-")
	require.Error(t, err)
	assert.Contains(t, errs, "line 2: charge “Tank 1”: is not JSON, which a cell of several parts holds; write it as an export of this kind shows it.")
	_, _, err = asked(t, "", "import", "--book", path, "--kind", "guage", "-")
	assert.ErrorContains(t, err, "kind “guage”: is no kind of entry")
	_, _, err = asked(t, "", "import", "--book", path, filepath.Join(t.TempDir(), "none.jsonl"))
	assert.ErrorContains(t, err, "no such file")
	exported, _, err := asked(t, "", "export", "--book", path, "--kind", "spirit gauged")
	require.NoError(t, err)
	require.Empty(t, exported, "none of it was taken in")
}

func TestAPhonesNameIsNotTheImporters(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s := serve(t, nil, "--book", path)
	phone := joinWith(t, s.url, s.code)
	_, _, err := asked(t, "", "import", "--book", path, threeMonths)
	require.ErrorContains(t, err, "another Gaugebook has this book open", "while the book is served nobody else writes to it")
	s.kill()
	_, _, err = asked(t, gauges, "import", "--book", path, "--kind", "spirit gauged", "--by", "IB", "--device", phone.chain.Device, "-")
	require.EqualError(t, err, "device “"+phone.chain.Device+"”: is a phone's name; name another, such as import01.")
}
