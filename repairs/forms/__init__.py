"""What is entered at the bench; errors are phrased here, rules are not decided here."""
