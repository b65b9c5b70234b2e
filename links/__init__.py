"""What the circuit does: two coupled resonant circuits, their budgets and limits."""
