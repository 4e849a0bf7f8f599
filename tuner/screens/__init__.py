"""What a person sees: values that draw a frozen state. They decide nothing and word no advice."""
