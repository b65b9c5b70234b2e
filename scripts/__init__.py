"""Set-up of the one environment that `make demo` and `make test` share. Not part of the distribution."""
