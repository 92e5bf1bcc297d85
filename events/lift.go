package events

import "fmt"

// lift raises data of an old version to the newest shape, on the only path by which stored bytes become values. There
// is one version yet; a step for version 2 of a kind would stand here as steps[kind][1].
func lift(k Kind, v int, raw []byte) ([]byte, error) {
	if v < 1 || v > Version {
		return nil, newerError(fmt.Sprintf("%s: version %d is not known to this version of traybook; a newer one may read it", k, v))
	}
	return raw, nil
}

// newerError is an ErrNewer about one entry.
type newerError string

func (e newerError) Error() string        { return string(e) }
func (e newerError) Is(target error) bool { return target == ErrNewer }
