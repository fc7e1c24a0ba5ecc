// Shows the contract of the service that this page came from. Nothing is asked of any other host.
SwaggerUIBundle({
  url: "/openapi.json",
  dom_id: "#contract",
  presets: [SwaggerUIBundle.presets.apis],
  validatorUrl: null,
  deepLinking: true,
  defaultModelsExpandDepth: 0,
});
