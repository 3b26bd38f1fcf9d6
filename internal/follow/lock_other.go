//go:build !unix

package follow

import "os"

// lockFile does nothing where the system has no lock that ends with the process.
func lockFile(*os.File) error { return nil }
