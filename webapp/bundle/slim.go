package main

import (
	"bytes"
	"encoding/binary"
	"errors"
	"slices"
)

// slim takes out of a Go program for the browser what only a traceback reads:
// the names of its functions, for each place in the code its file, its line and
// the calls that were inlined there, and how to print a function's arguments. A
// traceback of it is of no use; a build with GAUGEBOOK_DRAFT=1 keeps them. All
// else stays as the linker wrote it, and every offset with it: what is taken out
// becomes zeros, which a data section leaves out.
//
// It also writes the data in fewer segments than the linker, which cuts it at
// every eight zeros and spends more on the cuts than the zeros cost by brotli.
//
// The tables are those of package runtime (symtab.go, symtabinl.go, and type
// _func of runtime2.go), of the Go release that built the program; a program
// whose header is another is refused rather than guessed at.
func slim(program []byte) ([]byte, error) {
	sections, err := sectionsOf(program)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	out.Write(program[:len(wasmHeader)])
	for _, s := range sections {
		if s.id == dataSection {
			memory, err := memoryOf(s.body)
			if err != nil {
				return nil, err
			}
			if err := forgetLines(memory); err != nil {
				return nil, err
			}
			s.body = dataOf(memory)
		}
		out.WriteByte(s.id)
		out.Write(binary.AppendUvarint(nil, uint64(len(s.body))))
		out.Write(s.body)
	}
	return out.Bytes(), nil
}

var wasmHeader = []byte("\x00asm\x01\x00\x00\x00")

// dataSection is the section of what stands in memory at the start.
// https://webassembly.github.io/spec/core/binary/modules.html
const dataSection = 11

type section struct {
	id   byte
	body []byte
}

var errNotWasm = errors.New("this is not a WebAssembly module as the Go linker writes it")

func sectionsOf(program []byte) ([]section, error) {
	rest, ok := bytes.CutPrefix(program, wasmHeader)
	if !ok {
		return nil, errNotWasm
	}
	var out []section
	for len(rest) > 0 {
		size, n := binary.Uvarint(rest[1:])
		if n <= 0 || uint64(len(rest)-1-n) < size {
			return nil, errNotWasm
		}
		end := 1 + n + int(size)
		out = append(out, section{rest[0], rest[1+n : end]})
		rest = rest[end:]
	}
	return out, nil
}

// memoryOf lays a data section out. The Go linker writes a segment as: memory 0,
// i32.const place, end, bytes.
func memoryOf(body []byte) ([]byte, error) {
	count, n := binary.Uvarint(body)
	if n <= 0 {
		return nil, errNotWasm
	}
	body = body[n:]
	var memory []byte
	for range count {
		if len(body) < 2 || body[0] != 0 || body[1] != i32Const {
			return nil, errNotWasm
		}
		place, n := signed(body[2:])
		if n == 0 || place < 0 || len(body) < 3+n || body[2+n] != end {
			return nil, errNotWasm
		}
		body = body[3+n:]
		size, n := binary.Uvarint(body)
		if n <= 0 || uint64(len(body)-n) < size {
			return nil, errNotWasm
		}
		if past := int(place) + int(size); past > len(memory) {
			memory = append(memory, make([]byte, past-len(memory))...)
		}
		copy(memory[place:], body[n:n+int(size)])
		body = body[n+int(size):]
	}
	return memory, nil
}

const i32Const, end = 0x41, 0x0b

// signed reads a signed LEB128 number and its length, 0 where there is none.
func signed(b []byte) (int64, int) {
	var v int64
	for i := 0; i < len(b) && i < 5; i++ {
		v |= int64(b[i]&0x7f) << (7 * i)
		if b[i]&0x80 == 0 {
			if b[i]&0x40 != 0 {
				v |= -1 << (7 * (i + 1))
			}
			return v, i + 1
		}
	}
	return 0, 0
}

func appendSigned(b []byte, v int64) []byte {
	for {
		low := byte(v & 0x7f)
		v >>= 7
		if v == 0 && low&0x40 == 0 || v == -1 && low&0x40 != 0 {
			return append(b, low)
		}
		b = append(b, low|0x80)
	}
}

// dataOf is memory as a data section without its longer runs of zeros; memory has
// them anyway.
func dataOf(memory []byte) []byte {
	const worth = 256 // zeros; a place in the middle of the data costs brotli more than some of them
	var segments []byte
	count := 0
	for at := 0; at < len(memory); {
		for at < len(memory) && memory[at] == 0 {
			at++
		}
		if at == len(memory) {
			break
		}
		to, zeros := at, 0
		for to < len(memory) && zeros < worth {
			if memory[to] == 0 {
				zeros++
			} else {
				zeros = 0
			}
			to++
		}
		segments = append(segments, 0, i32Const)
		segments = append(appendSigned(segments, int64(at)), end)
		segments = binary.AppendUvarint(segments, uint64(to-zeros-at))
		segments = append(segments, memory[at:to-zeros]...)
		at = to
		count++
	}
	return append(binary.AppendUvarint(nil, uint64(count)), segments...)
}

// tablesHeader begins the tables of a Go program since Go 1.20: the magic
// number, two zeros, instructions of one byte, pointers of eight.
var tablesHeader = []byte{0xf1, 0xff, 0xff, 0xff, 0, 0, 1, 8}

// What a function's record holds, in bytes from its start, and what its lists
// mean: type _func of runtime2.go and internal/abi/symtab.go.
const (
	atName, atSP, atFile, atLine, atPCs, atUnit, atFirstLine, atDatas, afterFunc = 4, 16, 20, 24, 28, 32, 36, 43, 44

	pcInlined, pcArgLive                     = 2, 3
	dataInlined, dataArg, dataArgLive        = 3, 5, 6
	inlinedCall                              = 16 // bytes, type inlinedCall of symtabinl.go
	none                              uint32 = 1<<32 - 1
)

// tables are a program's tables, by where they begin in memory.
type tables struct {
	memory                                  []byte
	functions                               int // how many there are
	names, units, files, pcs, records, data int
}

func tablesOf(memory []byte) (tables, error) {
	t := tables{memory: memory}
	start := bytes.Index(memory, tablesHeader)
	if start < 0 || bytes.Contains(memory[start+1:], tablesHeader) {
		return t, errOtherTables
	}
	word := func(at int) int { return int(binary.LittleEndian.Uint64(memory[at:])) }
	t.functions = word(start + 8)
	t.names, t.units, t.files, t.pcs, t.records = start+word(start+32), start+word(start+40), start+word(start+48), start+word(start+56), start+word(start+64)
	if t.functions <= 0 || !slices.IsSorted([]int{start, t.names, t.units, t.files, t.pcs, t.records, len(memory)}) {
		return t, errOtherTables
	}
	first := binary.LittleEndian.AppendUint64(binary.LittleEndian.AppendUint64(nil, uint64(start)), uint64(t.names)) // how type moduledata of symtab.go begins
	module := bytes.Index(memory, first)
	if module < 0 || module+atData+8 > len(memory) {
		return t, errOtherTables
	}
	if t.data = word(module + atData); t.data < t.records || t.data > len(memory) {
		return t, errOtherTables
	}
	return t, nil
}

// atData is where moduledata says where the functions' data begin: gofunc.
const atData = 320

var errOtherTables = errors.New("the program's tables are not where they were: slim.go was written for another Go release; hold it against runtime/symtab.go")

func (t *tables) get(at int) uint32    { return binary.LittleEndian.Uint32(t.memory[at:]) }
func (t *tables) put(at int, v uint32) { binary.LittleEndian.PutUint32(t.memory[at:], v) }

// walk reads a table of values by place in the code, pairs of numbers that end
// with a zero, and gives its length and its highest value (runtime's step).
func (t *tables) walk(off uint32) (length int, highest int32) {
	at := t.pcs + int(off)
	value := int32(-1)
	highest = value
	for first := true; ; first = false {
		step, n := binary.Uvarint(t.memory[at+length:])
		length += n
		if step == 0 && !first {
			return length, highest
		}
		_, n = binary.Uvarint(t.memory[at+length:])
		length += n
		by := int32(step >> 1)
		if step&1 != 0 {
			by = ^by
		}
		value += by
		highest = max(highest, value)
	}
}

func forgetLines(memory []byte) error {
	t, err := tablesOf(memory)
	if err != nil {
		return err
	}
	kept := make([]bool, t.records-t.pcs) // of the tables by place
	needed := map[uint32]bool{}           // of the functions' data
	inlined := map[uint32]int{}           // and how many bytes of it are not
	for i := range t.functions {
		f := t.records + int(t.get(t.records+8*i+4))
		for _, at := range []int{atName, atFile, atLine, atUnit, atFirstLine} {
			t.put(f+at, 0)
		}
		lists, datas := int(t.get(f+atPCs)), int(memory[f+atDatas])
		data := func(j int) int { return f + afterFunc + 4*(lists+j) }
		keep := func(off uint32) {
			if off != 0 {
				n, _ := t.walk(off)
				for j := range n {
					kept[int(off)+j] = true
				}
			}
		}
		keep(t.get(f + atSP))
		for j := range lists {
			at := f + afterFunc + 4*j
			off := t.get(at)
			if j != pcInlined && j != pcArgLive {
				keep(off)
				continue
			}
			if j == pcInlined && off != 0 && datas > dataInlined {
				_, highest := t.walk(off)
				tree := t.get(data(dataInlined))
				inlined[tree] = max(inlined[tree], inlinedCall*int(highest+1))
			}
			t.put(at, 0)
		}
		for j := range datas {
			if j == dataInlined || j == dataArg || j == dataArgLive {
				t.put(data(j), none)
			} else {
				needed[t.get(data(j))] = true
			}
		}
	}
	for i, used := range kept {
		if !used {
			memory[t.pcs+i] = 0
		}
	}
	delete(inlined, none)
	for tree, size := range inlined {
		if within(tree, size, needed) {
			continue // one piece of data may serve two ends
		}
		clear(memory[t.data+int(tree) : t.data+int(tree)+size])
	}
	clear(memory[t.names+1 : t.pcs]) // no function has a name, a unit or a file
	return nil
}

// within is whether something that is needed begins in these bytes.
func within(from uint32, size int, needed map[uint32]bool) bool {
	for i := range uint32(size) {
		if needed[from+i] {
			return true
		}
	}
	return false
}
