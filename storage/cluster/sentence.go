package cluster

import "fmt"

// sentence makes an error that a grower reads as it stands: whole sentences that say what
// to do, unlike the fragments that fmt.Errorf strings together for a log.
func sentence(format string, args ...any) error { return fmt.Errorf(format, args...) }
