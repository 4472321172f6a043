package record

import "unicode/utf8"

// deepest is how far a body may nest; the book nests four.
const deepest = 32

// compactObject says whether a body is exactly one JSON object (RFC 8259) in
// UTF-8 without white space between its parts.
func compactObject(body []byte) bool {
	if len(body) == 0 || body[0] != '{' || !utf8.Valid(body) {
		return false
	}
	end := value(body, 0, deepest)
	return end == len(body)
}

// value, and every function below it, returns the index after the part it
// read from i on, or -1.
func value(b []byte, i, depth int) int {
	if i < 0 || i >= len(b) || depth == 0 {
		return -1
	}
	switch b[i] {
	case '{':
		return list(b, i, '}', func(i int) int {
			if i = text(b, i); i < 0 || i >= len(b) || b[i] != ':' {
				return -1
			}
			return value(b, i+1, depth-1)
		})
	case '[':
		return list(b, i, ']', func(i int) int { return value(b, i, depth-1) })
	case '"':
		return text(b, i)
	case 't':
		return word(b, i, "true")
	case 'f':
		return word(b, i, "false")
	case 'n':
		return word(b, i, "null")
	}
	return number(b, i)
}

// list reads items between the bracket at i and its end, parted by commas.
func list(b []byte, i int, end byte, item func(int) int) int {
	i++
	if i < len(b) && b[i] == end {
		return i + 1
	}
	for {
		if i = item(i); i < 0 || i >= len(b) {
			return -1
		}
		switch b[i] {
		case end:
			return i + 1
		case ',':
			i++
		default:
			return -1
		}
	}
}

func text(b []byte, i int) int {
	if i < 0 || i >= len(b) || b[i] != '"' {
		return -1
	}
	for i++; i < len(b); i++ {
		switch c := b[i]; {
		case c == '"':
			return i + 1
		case c < ' ':
			return -1
		case c == '\\':
			if i++; i >= len(b) {
				return -1
			}
			switch b[i] {
			case '"', '\\', '/', 'b', 'f', 'n', 'r', 't':
			case 'u':
				for range 4 {
					if i++; i >= len(b) || !hexDigit(b[i]) {
						return -1
					}
				}
			default:
				return -1
			}
		}
	}
	return -1
}

func hexDigit(c byte) bool { return nibble(c) >= 0 || 'A' <= c && c <= 'F' }

func word(b []byte, i int, w string) int {
	if len(b)-i < len(w) || string(b[i:i+len(w)]) != w {
		return -1
	}
	return i + len(w)
}

// number reads -?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?
func number(b []byte, i int) int {
	if i < len(b) && b[i] == '-' {
		i++
	}
	from := i
	if i = digits(b, i); i == from || b[from] == '0' && i > from+1 {
		return -1
	}
	if i < len(b) && b[i] == '.' {
		from = i + 1
		if i = digits(b, from); i == from {
			return -1
		}
	}
	if i < len(b) && b[i]|0x20 == 'e' {
		from = i + 1
		if from < len(b) && (b[from] == '+' || b[from] == '-') {
			from++
		}
		if i = digits(b, from); i == from {
			return -1
		}
	}
	return i
}

func digits(b []byte, i int) int {
	for i < len(b) && '0' <= b[i] && b[i] <= '9' {
		i++
	}
	return i
}
