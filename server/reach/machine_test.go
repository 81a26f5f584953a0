package reach_test

import (
	"errors"
	"net"
	"net/netip"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/authority"
	"hangtrue/server/reach"
)

// machine is a computer with a host name and addresses.
func machine(host string, addresses ...string) reach.Machine {
	return reach.Machine{
		Hostname: func() (string, error) { return host, nil },
		Addresses: func() ([]net.Addr, error) {
			var list []net.Addr
			for _, a := range addresses {
				ip, n, err := net.ParseCIDR(a)
				if err != nil {
					return nil, err
				}
				list = append(list, &net.IPNet{IP: ip, Mask: n.Mask})
			}
			return list, nil
		},
	}
}

func TestMachine_Names(t *testing.T) {
	for _, row := range []struct {
		name  string
		of    reach.Machine
		given []string
		only  string
		want  string
	}{
		{"a host name alone", machine("attic"), nil, "", "attic.local, attic, localhost, 127.0.0.1, ::1"},
		{"in a domain", machine("attic.example.org"), nil, "", "attic.local, attic.example.org, localhost, 127.0.0.1, ::1"},
		{"in .local already", machine("Attic.local"), nil, "", "attic.local, localhost, 127.0.0.1, ::1"},
		{"a host name that is none in DNS", machine("my attic"), nil, "", "localhost, 127.0.0.1, ::1"},
		{"localhost", machine("localhost"), nil, "", "localhost, 127.0.0.1, ::1"},
		{"addresses, each once", machine("attic", "127.0.0.1/8", "192.168.1.5/24", "192.168.1.5/32", "fd00::2/64", "fe80::1/64"), nil, "",
			"attic.local, attic, localhost, 127.0.0.1, ::1, 192.168.1.5, fd00::2, fe80::1"},
		{"given names first", machine("attic"), []string{"Jobs.home.arpa", "attic"}, "", "jobs.home.arpa, attic, attic.local, localhost, 127.0.0.1, ::1"},
		{"one address only", machine("attic", "192.168.1.5/24", "10.0.0.7/8"), nil, "10.0.0.7", "attic.local, attic, localhost, 10.0.0.7"},
	} {
		row.of.Given = row.given
		if row.only != "" {
			row.of.Only = netip.MustParseAddr(row.only)
		}
		n, err := row.of.Names()
		require.NoError(t, err, row.name)
		assert.Equal(t, row.want, n.String(), row.name)
	}
	bad := machine("attic")
	bad.Given = []string{"a name"}
	_, err := bad.Names()
	assert.ErrorIs(t, err, authority.ErrName)
	none := errors.New("none")
	bad = reach.Machine{Hostname: func() (string, error) { return "attic", nil }, Addresses: func() ([]net.Addr, error) { return nil, none }}
	_, err = bad.Names()
	assert.ErrorIs(t, err, none)
}

// TestMachine_NamesOfThis: the zero value asks the operating system.
func TestMachine_NamesOfThis(t *testing.T) {
	n, err := reach.Machine{}.Names()
	require.NoError(t, err)
	assert.Contains(t, n.DNS, "localhost")
	assert.Contains(t, n.Addresses, netip.MustParseAddr("127.0.0.1"))
}

func TestMachine_Best(t *testing.T) {
	for _, row := range []struct {
		name  string
		of    reach.Machine
		given []string
		want  string
	}{
		{"an address of the house", machine("attic", "127.0.0.1/8", "169.254.1.1/16", "fd00::2/64", "192.168.1.5/24"), nil, "192.168.1.5"},
		{"the newer kind of address", machine("attic", "fe80::1/64", "fd00::2/64"), nil, "fd00::2"},
		{"a given name", machine("attic", "192.168.1.5/24"), []string{"jobs.home.arpa"}, "jobs.home.arpa"},
		{"a name, without addresses", machine("attic"), nil, "attic.local"},
		{"nothing", machine("localhost"), nil, "localhost"},
	} {
		row.of.Given = row.given
		n, err := row.of.Names()
		require.NoError(t, err, row.name)
		assert.Equal(t, row.want, row.of.Best(n), row.name)
	}
}
