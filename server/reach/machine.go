package reach

import (
	"fmt"
	"net"
	"net/netip"
	"os"
	"slices"
	"strings"

	"hangtrue/server/authority"
)

// A Machine says what a computer is called and what addresses it has now. The zero
// value asks the operating system.
type Machine struct {
	Given     []string   // names that a person gave it, the first the preferred one
	Only      netip.Addr // the one address that the server listens on; all, where it is not valid
	Hostname  func() (string, error)
	Addresses func() ([]net.Addr, error)
}

// Called are the names the computer has: those given, its host name, and that name in
// .local (RFC 6762), which the operating system may or may not answer to.
func (m Machine) Called() ([]string, error) {
	hostname := m.Hostname
	if hostname == nil {
		hostname = os.Hostname
	}
	host, err := hostname()
	if err != nil {
		return nil, fmt.Errorf("reach: the name of this computer: %w", err)
	}
	var names []string
	for _, given := range m.Given {
		name, err := authority.CanonicalName(given)
		if err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	// A host name that is none in DNS is passed over.
	if name, err := authority.CanonicalName(host); err == nil && name != "localhost" {
		first, _, _ := strings.Cut(name, ".")
		names = append(names, first+".local", name)
	}
	return compact(names), nil
}

// compact keeps the first of each.
func compact(names []string) []string {
	var once []string
	for _, n := range names {
		if !slices.Contains(once, n) {
			once = append(once, n)
		}
	}
	return once
}

// Names are all names and addresses that reach the computer, its own loopback among them.
func (m Machine) Names() (authority.Names, error) {
	called, err := m.Called()
	if err != nil {
		return authority.Names{}, err
	}
	list := m.Addresses
	if list == nil {
		list = net.InterfaceAddrs
	}
	all, err := list()
	if err != nil {
		return authority.Names{}, fmt.Errorf("reach: the addresses of this computer: %w", err)
	}
	n := authority.Names{DNS: compact(append(called, "localhost")), Addresses: []netip.Addr{netip.AddrFrom4([4]byte{127, 0, 0, 1}), netip.IPv6Loopback()}}
	for _, a := range all {
		prefix, err := netip.ParsePrefix(a.String())
		if err != nil {
			continue // not an address of the internet protocol
		}
		if address := prefix.Addr().Unmap(); !slices.Contains(n.Addresses, address) {
			n.Addresses = append(n.Addresses, address)
		}
	}
	if m.Only.IsValid() {
		n.Addresses = slices.DeleteFunc(n.Addresses, func(a netip.Addr) bool { return a != m.Only.WithZone("") && a != m.Only })
	}
	return n, nil
}

// Best is the host that a phone most likely reaches the computer by: a name somebody
// gave, else an address in the house's network (the older kind first), else a name,
// else this computer's own. A name that was not given comes late: not every network
// knows it.
func (m Machine) Best(n authority.Names) string {
	for _, given := range m.Given {
		if name, err := authority.CanonicalName(given); err == nil && slices.Contains(n.DNS, name) {
			return name
		}
	}
	for _, old := range []bool{true, false} {
		for _, a := range n.Addresses {
			if a.Is4() == old && !a.IsLoopback() && !a.IsLinkLocalUnicast() {
				return a.String()
			}
		}
	}
	for _, name := range n.DNS {
		if name != "localhost" {
			return name
		}
	}
	return "localhost"
}
