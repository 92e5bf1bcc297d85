package web

import (
	"net"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestThePrivateAddressOfAMachine(t *testing.T) {
	of := func(list ...string) (string, error) {
		var all []net.Addr
		for _, text := range list {
			ip, n, err := net.ParseCIDR(text)
			require.NoError(t, err)
			all = append(all, &net.IPNet{IP: ip, Mask: n.Mask})
		}
		a, err := firstPrivate(all)
		return a.String(), err
	}
	a, err := of("127.0.0.1/8", "203.0.113.4/24", "fd12::3/64", "192.168.4.7/24", "10.0.0.2/8")
	require.NoError(t, err)
	assert.Equal(t, "192.168.4.7", a)
	a, err = of("127.0.0.1/8", "fd12::3/64")
	require.NoError(t, err)
	assert.Equal(t, "fd12::3", a)
	_, err = of("127.0.0.1/8", "203.0.113.4/24", "2001:db8::1/32")
	assert.ErrorContains(t, err, "this machine has no private address in a network")
}

func TestAWayBackStaysOnThisServer(t *testing.T) {
	for to, want := range map[string]string{"/picture/2026-001?x=1": "/picture/2026-001?x=1", "": "/", "//elsewhere.example": "/", "http://elsewhere.example": "/",
		"/\\elsewhere.example": "/", "/a\r\nSet-Cookie: x=1": "/"} {
		assert.Equal(t, want, ownPath(to), to)
	}
}

// Each grey of a strip is what a screen shows of that density, the paper white: 0.3 halves the light, which sRGB codes as 188
// (IEC 61966-2-1).
func TestGreys(t *testing.T) {
	assert.Equal(t, "#ffffff", grey(0.1, 0.1))
	assert.Equal(t, "#ffffff", grey(0.05, 0.1))
	assert.Equal(t, "#bcbcbc", grey(0.40103, 0.1))
	assert.Equal(t, "#000000", grey(9, 0.1))
}
