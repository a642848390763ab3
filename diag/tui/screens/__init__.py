"""The screens, one module each, and the modal ones that they share."""
