package server

// The policies, for tests.
const (
	Policy      = policy
	PhotoPolicy = photoPolicy
)
