// Nothing here may leave the host: no validator badge, no remote description.
window.SwaggerUIBundle({
  url: "/openapi.json",
  dom_id: "#description",
  docExpansion: "list",
  validatorUrl: null,
  onComplete: () => {
    document.querySelector("#servers")?.setAttribute("aria-label", "Server");
  },
  presets: [window.SwaggerUIBundle.presets.apis],
});
