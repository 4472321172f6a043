package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// program is the pocket engine as the linker leaves it.
func program(t *testing.T) []byte {
	t.Helper()
	to := filepath.Join(t.TempDir(), "engine.wasm")
	_, err := goTool(forBrowser, "build", "-tags", "pocket", "-trimpath", "-ldflags", "-s -w", "-o", to, "gaugebook/cmd/engine")
	require.NoError(t, err)
	body, err := os.ReadFile(to)
	require.NoError(t, err)
	return body
}

func memoryIn(t *testing.T, program []byte) (memory []byte, others [][]byte) {
	t.Helper()
	sections, err := sectionsOf(program)
	require.NoError(t, err)
	for _, s := range sections {
		if s.id == dataSection {
			memory, err = memoryOf(s.body)
			require.NoError(t, err)
		} else {
			others = append(others, append([]byte{s.id}, s.body...))
		}
	}
	require.NotEmpty(t, memory)
	return memory, others
}

// What slim takes is what a traceback reads and nothing else: the code, the
// data, and the tables that the stack and the collector are walked by are the
// linker's.
func TestSlim(t *testing.T) {
	linked := program(t)
	slimmed, err := slim(linked)
	require.NoError(t, err)
	was, wasOthers := memoryIn(t, linked)
	is, isOthers := memoryIn(t, slimmed)
	require.Equal(t, wasOthers, isOthers, "every section but the data")
	is = append(is, make([]byte, len(was)-len(is))...) // zeros at the end are left out

	before, err := tablesOf(was)
	require.NoError(t, err)
	after, err := tablesOf(is)
	require.NoError(t, err)
	require.Equal(t, before.functions, after.functions)
	require.True(t, bytes.Equal(was[:before.names], is[:after.names]), "what stands before the tables")
	for i := range before.functions {
		f := before.records + int(before.get(before.records+8*i+4))
		require.Equal(t, before.get(before.records+8*i), after.get(after.records+8*i), "where a function begins")
		require.Zero(t, after.get(f+atLine))
		same := func(at int) {
			off := before.get(at)
			require.Equal(t, off, after.get(at))
			if off != 0 {
				n, _ := before.walk(off)
				require.Equal(t, was[before.pcs+int(off):before.pcs+int(off)+n], is[after.pcs+int(off):after.pcs+int(off)+n])
			}
		}
		same(f + atSP)
		lists := int(before.get(f + atPCs))
		for j := range lists {
			if j != pcInlined && j != pcArgLive {
				same(f + afterFunc + 4*j)
			}
		}
		for j := range int(was[f+atDatas]) {
			at := f + afterFunc + 4*(lists+j)
			if j == dataInlined || j == dataArg || j == dataArgLive {
				require.Equal(t, none, after.get(at))
				continue
			}
			off := before.get(at)
			require.Equal(t, off, after.get(at))
			if off != none { // a map of pointers: its size is told by its first two numbers
				from, size := before.data+int(off), 8
				if j < dataInlined-1 {
					size += int(before.get(from)) * ((int(before.get(from+4)) + 7) / 8)
				}
				require.Equal(t, was[from:from+size], is[from:from+size])
			}
		}
	}
	for _, name := range []string{"gaugebook/calc/book/fold.go", "gaugebook/calc/book.(*Book).Add"} {
		require.True(t, bytes.Contains(was, []byte(name)))
		require.False(t, bytes.Contains(is, []byte(name)), "%s: only a traceback says it", name)
	}
}

func TestSlimRefusesWhatItDoesNotKnow(t *testing.T) {
	_, err := slim([]byte("#!/bin/sh"))
	require.ErrorIs(t, err, errNotWasm)
	data := dataOf(bytes.Repeat([]byte("other tables"), 50))
	module := append(append([]byte(nil), wasmHeader...), dataSection, byte(len(data)&0x7f|0x80), byte(len(data)>>7))
	_, err = slim(append(module, data...))
	require.ErrorIs(t, err, errOtherTables)
	_, err = slim(append(module, data[:9]...))
	require.ErrorIs(t, err, errNotWasm)
}

func TestDataKeepsWhatStandsInMemory(t *testing.T) {
	memory := make([]byte, 3000)
	for _, at := range []int{5, 6, 700, 955, 2999} {
		memory[at] = byte(at%250 + 1)
	}
	back, err := memoryOf(dataOf(memory))
	require.NoError(t, err)
	require.Equal(t, memory, back)
}
