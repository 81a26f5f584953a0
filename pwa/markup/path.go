package markup

import "strings"

// Segment writes a text so that it can stand between two slashes of an address (RFC 3986
// section 3.3), as net/url's PathEscape does, which a phone would need no other part of.
func Segment(text string) string {
	const digits = "0123456789ABCDEF"
	var b strings.Builder
	for i := range len(text) {
		c := text[i]
		if 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || strings.IndexByte("-._~$&+=:@", c) >= 0 {
			b.WriteByte(c)
			continue
		}
		b.WriteByte('%')
		b.WriteByte(digits[c>>4])
		b.WriteByte(digits[c&15])
	}
	return b.String()
}

// FromSegment reads what [Segment] wrote, and any other spelling of a segment. ok is false
// where two digits do not follow a percent sign.
func FromSegment(segment string) (text string, ok bool) {
	if strings.IndexByte(segment, '%') < 0 {
		return segment, true
	}
	var b strings.Builder
	for i := 0; i < len(segment); i++ {
		c := segment[i]
		if c == '%' {
			if i+2 >= len(segment) {
				return "", false
			}
			high, low := digit(segment[i+1]), digit(segment[i+2])
			if high < 0 || low < 0 {
				return "", false
			}
			c = byte(high<<4 | low)
			i += 2
		}
		b.WriteByte(c)
	}
	return b.String(), true
}

// digit is the value of a hexadecimal digit, -1 of anything else.
func digit(c byte) int {
	switch {
	case '0' <= c && c <= '9':
		return int(c - '0')
	case 'a' <= c && c <= 'f':
		return int(c-'a') + 10
	case 'A' <= c && c <= 'F':
		return int(c-'A') + 10
	}
	return -1
}
