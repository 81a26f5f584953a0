package authority

import (
	"fmt"
	"net/netip"
	"slices"
	"strings"
)

// Names are what a server is reached by.
type Names struct {
	DNS       []string
	Addresses []netip.Addr
}

// CanonicalName is a host name in lower case and without the dot that may end it;
// what is none is refused with [ErrName]. Its labels follow RFC 1123 section 2.1, and
// an underscore is let through, which machines in houses do have.
func CanonicalName(name string) (string, error) {
	lower := strings.ToLower(strings.TrimSuffix(name, "."))
	bad := lower == "" || len(lower) > 253
	for label := range strings.SplitSeq(lower, ".") {
		bad = bad || label == "" || len(label) > 63 || label[0] == '-' || label[len(label)-1] == '-' ||
			strings.Trim(label, "abcdefghijklmnopqrstuvwxyz0123456789-_") != ""
	}
	if _, err := netip.ParseAddr(lower); bad || err == nil {
		return "", fmt.Errorf("authority: %q: %w: a host name such as attic.local is wanted", name, ErrName)
	}
	return lower, nil
}

// below tells whether a name is a domain or in it (RFC 5280 section 4.2.1.10).
func below(name, domain string) bool {
	return name == domain || strings.HasSuffix(name, "."+domain)
}

// Vouches gives the part of the names that the authority may vouch for, in order and
// each once, and what is left.
func (a *Authority) Vouches(n Names) (may, left Names) {
	for _, given := range n.DNS {
		name, err := CanonicalName(given)
		switch {
		case err != nil || !slices.ContainsFunc(a.certificate.PermittedDNSDomains, func(domain string) bool { return below(name, domain) }):
			left.DNS = append(left.DNS, given)
		case !slices.Contains(may.DNS, name):
			may.DNS = append(may.DNS, name)
		}
	}
	for _, address := range n.Addresses {
		address = address.Unmap().WithZone("")
		ip := address.AsSlice()
		permitted := false
		for _, r := range a.certificate.PermittedIPRanges {
			permitted = permitted || len(r.IP) == len(ip) && r.Contains(ip)
		}
		switch {
		case !permitted:
			left.Addresses = append(left.Addresses, address)
		case !slices.Contains(may.Addresses, address):
			may.Addresses = append(may.Addresses, address)
		}
	}
	return may, left
}

// Empty tells whether there is no name and no address.
func (n Names) Empty() bool { return len(n.DNS)+len(n.Addresses) == 0 }

// Without gives those that are not among others.
func (n Names) Without(others Names) Names {
	return Names{
		DNS:       slices.DeleteFunc(slices.Clone(n.DNS), func(name string) bool { return slices.Contains(others.DNS, name) }),
		Addresses: slices.DeleteFunc(slices.Clone(n.Addresses), func(a netip.Addr) bool { return slices.Contains(others.Addresses, a) }),
	}
}

// String lists names and addresses for a person.
func (n Names) String() string {
	all := slices.Clone(n.DNS)
	for _, a := range n.Addresses {
		all = append(all, a.String())
	}
	return strings.Join(all, ", ")
}

// same tells whether two have the same members, each once; a machine lists its
// addresses in no fixed order.
func (n Names) same(o Names) bool { return n.Without(o).Empty() && o.Without(n).Empty() }
