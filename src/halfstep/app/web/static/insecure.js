// A page learns from its browser alone whether it is trusted with a microphone.

document.getElementById("insecure").hidden = window.isSecureContext;
